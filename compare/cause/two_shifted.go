package cause

import "offbeat/fit/posterior"

// leastPair are the odds of a pair of which one part never moves: none to speak of.
const leastPair = 1e-12

// twoShifted: two parts out of tolerance, each pair a case of its own.
var twoShifted = Cause{
	Name:  "shifted",
	Key:   "two_shifted",
	Parts: 2,
	Odds:  []Row{{"", 0.0012, 0.008, "each pair: twice the product of the two parts' own odds of shifted, here of a resistor and a film capacitor"}},
	Words: Words{
		Kind:    "two parts out of tolerance",
		Title:   "%s both out of tolerance",
		Curve:   "%s out of tolerance",
		Lot:     "the batches of %s are out of tolerance",
		Retune:  Cures,
		Repair:  "Fit new %s as drawn",
		Form:    "two parts so, each pair",
		Meaning: "Two parts outside their tolerances at once, each as far as one alone may be.",
		See:     []string{"shifted"},
	},
	Cases: func(b *Board) []Case {
		var out []Case
		for i := range b.Parts {
			for j := i + 1; j < len(b.Parts); j++ {
				if b.Circuit.Parts[i].Idle || b.Circuit.Parts[j].Idle {
					continue
				}
				both := 2 * b.shiftedOdds(i) * b.shiftedOdds(j)
				prior := b.Loose()
				prior[i], prior[j] = b.shift(i), b.shift(j)
				out = append(out, Case{Parts: []string{b.Parts[i].Name, b.Parts[j].Name}, Shifts: []int{i, j}, Preset: max(both, leastPair), Hypothesis: posterior.Hypothesis{Prior: prior}})
			}
		}
		return out
	},
}
