package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// leakage: a resistance across the capacitor, log-uniform from 2.2 to 300 times the actual charging
// resistance. (Below twice that resistance the capacitor never reaches two thirds of the supply.)
var leakage = Cause{"leakage", "leakage", func(b *Board) []Case {
	if !b.Circuit.Has(circuit.LeakRatio) {
		return nil
	}
	c := b.Parts[b.capacitor()].Name
	return []Case{{
		Parts: []string{c},
		Hypothesis: posterior.Hypothesis{
			Prior:    b.InTolerance(),
			Override: []posterior.Variable{{Slot: circuit.LeakRatio, Log: true, Density: posterior.Uniform(math.Log(2.2), math.Log(300))}},
		},
		Parameter: &Parameter{"leak across " + c, "ohm", 0, func(v *circuit.Values) float64 {
			return v[circuit.LeakRatio] * b.Circuit.Charging(v)
		}},
	}}
}}
