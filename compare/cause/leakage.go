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
	Shows: []Show{
		{"timing node", "", 0.2, "a probe at the timing node leaks (10 MΩ at ten to one; how often it is forgotten, common practice)"},
		{"inspection", "", 0.3, "flux, damp and dirt can be seen, a leak inside can not (common practice)"},
		{"inspection", "electrolytic", 0.4, "or it sits the wrong way round, bulges or is wet"},
		{"warm-up", "", 0.1, "damp dries (common practice)"},
		{"warm-up", "electrolytic", 0.5, "the leak falls under voltage and grows with heat (makers: by up to two decades under continued voltage)"},
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
		var out []Case
		for _, k := range b.leaks() {
			c := b.with([]*Parameter{b.resistance(k)}, k.prior())
			c.Parts = []string{b.Parts[k.part].Name}
			out = append(out, c)
		}
		return out
	},
}

// leastLeak and mostLeak bound a leakage over the charging resistance.
const (
	leastLeak = 2.2
	mostLeak  = 300
)

// prior is that of a leakage over the charging resistance: below twice that the capacitor never reaches two thirds of the supply.
func (k leak) prior() posterior.Variable { return logUniform(k.slot, leastLeak, mostLeak) }

// resistance is the leakage's.
func (b *Board) resistance(k leak) *Parameter {
	return &Parameter{"leakage across " + b.Parts[k.part].Name, "ohm", 0, func(v *circuit.Values) float64 {
		return v[k.slot] * b.Circuit.Charging(v)
	}}
}
