package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// leakage: a resistance across the capacitor, log-uniform from 2.2 to 300 times the actual charging
// resistance. (Below twice that resistance the capacitor never reaches two thirds of the supply.)
var leakage = Cause{
	Name:  "leakage",
	Key:   "leakage",
	Parts: 1,
	Odds: []Row{
		{"", 0.01, 0.03, "film and ceramic capacitors seldom leak; flux and damp do"},
		{"electrolytic", 0.05, 0.20, "shorts and leaks are half of an electrolytic's failures (MIL-HDBK-338B modes, from memory)"},
		{"tantalum", 0.05, 0.15, "likewise"},
	},
	Words: Words{
		Kind:    "leakage",
		Title:   "leakage across %s",
		Detail:  func(s *Said) string { return s.leak(0) },
		Curve:   "leakage across %s",
		Lot:     "the batch of %s leaks",
		Retune:  "the likeliest cause is leakage across the capacitor, which changes with heat and damp: replace it first, then tune",
		Repair:  "Fit a new %s as drawn, and clean the board around it",
		Form:    "a resistance across the capacitor, log-uniform from 2.2 to 300 times the charging resistance",
		Meaning: "A resistance across the timing capacitor, 2.2 to 300 times the charging resistance: a dried or damp capacitor, flux, dirt. It lengthens the high time and shortens the low one.",
		Also:    []string{"leak", "leaking"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Has(circuit.LeakRatio) {
			return nil
		}
		c := b.Parts[b.capacitor()].Name
		return []Case{{
			Parts: []string{c},
			Hypothesis: posterior.Hypothesis{
				Prior:    b.InTolerance(),
				Override: []posterior.Variable{leakPrior},
			},
			Parameters: []*Parameter{b.leak()},
		}}
	},
}

// leak is the resistance across the capacitor.
func (b *Board) leak() *Parameter {
	return &Parameter{"leakage across " + b.Parts[b.capacitor()].Name, "ohm", 0, func(v *circuit.Values) float64 {
		return v[circuit.LeakRatio] * b.Circuit.Charging(v)
	}}
}
