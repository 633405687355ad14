package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// discharge: a resistance from the discharge pin to ground while the switch conducts, R1 still feeding that
// pin; log-uniform from a hundredth of the actual R2 to R2.
var discharge = Cause{"discharge", "discharge", func(b *Board) []Case {
	if !b.Circuit.Has(circuit.WeakRatio) {
		return nil
	}
	return []Case{{
		Hypothesis: posterior.Hypothesis{
			Prior:    b.InTolerance(),
			Override: []posterior.Variable{{Slot: circuit.WeakRatio, Log: true, Density: posterior.Uniform(math.Log(0.01), 0)}},
		},
		Parameter: &Parameter{"discharge switch", "ohm", 0, func(v *circuit.Values) float64 { return v[circuit.WeakRatio] * v[1] }},
	}}
}}
