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

// Tempcos are the limits within which the temperature coefficient of a part of that class lies about what is stated,
// 1/K (common practice, from data sheets' class limits).
var Tempcos = map[string]float64{
	"resistor":     100e-6,
	"c0g":          30e-6,
	"film":         300e-6,
	"ceramic":      2000e-6,
	"tantalum":     1000e-6,
	"electrolytic": 2000e-6,
}

// TempcoSpread is the limit of what is not known of a part's temperature coefficient, 1/K: the class's where the design
// states none, a fifth of what it states otherwise.
func TempcoSpread(p fit.Part) float64 {
	if p.Tempco == 0 {
		return Tempcos[class(p)]
	}
	return max(p.Tempco, -p.Tempco) / 5
}
