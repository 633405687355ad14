package cause

import "offbeat/fit"

// Drifts are by how much a sound part's value differs from one session to the next, as a relative standard deviation:
// some kelvin, some humidity and a little ageing (common practice).
var Drifts = map[string]float64{
	"resistor":     2e-4,
	"c0g":          2e-4,
	"film":         1e-3,
	"ceramic":      5e-3,
	"tantalum":     5e-3,
	"electrolytic": 1e-2,
}

// Drift is that of a part.
func Drift(p fit.Part) float64 { return Drifts[class(p)] }
