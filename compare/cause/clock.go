package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// clock: the instrument's rate is off by a factor whose logarithm is normal with standard deviation 0.02, in
// place of its stated limit; the parts are in tolerance.
var clock = Cause{"clock", "clock", func(b *Board) []Case {
	return []Case{{
		Hypothesis: posterior.Hypothesis{
			Prior:    b.InTolerance(),
			Override: []posterior.Variable{{Slot: circuit.Clock, Density: posterior.Normal(0, 0.02)}},
		},
		Parameter: &Parameter{"clock's logarithmic error", "1", 0, func(v *circuit.Values) float64 { return v[circuit.Clock] }},
	}}
}}
