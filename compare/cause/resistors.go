package cause

import (
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// resistors: all of them are off by one factor, each in its tolerance about that: one batch, one make, one age. The first of
// them is out of its tolerance as a shifted one is, or the one that was read, and the others go with it.
var resistors = Cause{
	Name: "resistors",
	Key:  "resistors",
	Odds: []Row{{"", 0.003, 0.008, "a wrong batch, or carbon resistors of one age, 10 to 20 % high; a sixth of one resistor by itself (common practice)"}},
	Words: Words{
		Kind:    "all resistors off alike",
		Title:   "all resistors off by one factor",
		Detail:  func(s *Said) string { return "about " + s.Value(0) + " of nominal" },
		Curve:   "all resistors off alike",
		Lot:     "the resistors are off by one factor",
		Retune:  Cures,
		Repair:  "Fit new resistors as drawn",
		Form:    "all resistors by one factor, |ln| beyond the first one's tolerance exponential of mean 0.25, each in its own about that",
		Meaning: "Every resistor is off by the same factor: a wrong batch, one make, one age. High and low time then go together, as with a capacitor that is off; one reading of a resistor tells them apart.",
		See:     []string{"shifted", "confounded"},
	},
	Cases: func(b *Board) []Case {
		first, all := -1, []int{}
		for i, p := range b.Parts {
			if p.Kind != fit.Resistor || b.Circuit.Parts[i].Idle {
				continue
			}
			if all = append(all, i); first < 0 || b.readings[i].Value > 0 {
				first = i
			}
		}
		if len(all) < 2 {
			return nil
		}
		prior, nominal, with := b.InTolerance(), b.Parts[first].Nominal, []int{}
		for _, i := range all {
			p := b.Parts[i]
			switch {
			case i == first:
				prior[i] = b.shift(i)
			case b.readings[i].Value > 0: // by the reading of the first: two readings are sharp against the tolerances between them
				prior[i] = b.Read(i, posterior.UniformValue(limits(p, p.Nominal*b.readings[first].Value/nominal)))
			default:
				with = append(with, i)
			}
		}
		return []Case{{
			Shifts: all,
			Hypothesis: posterior.Hypothesis{Prior: prior, Tie: func(v *circuit.Values) {
				for _, i := range with {
					v[i] *= v[first] / nominal
				}
			}},
			Parameters: []*Parameter{{"resistors over nominal", "1", 1, func(v *circuit.Values) float64 { return v[first] / nominal }}},
		}}
	},
}
