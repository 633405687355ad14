package cause

import "offbeat/fit/posterior"

// twoShifted: two parts out of tolerance, each pair a case of its own.
var twoShifted = Cause{
	Name:  "shifted",
	Key:   "two_shifted",
	Parts: 2,
	Odds:  []Row{{"", 0.002, 0.010, "two faults at once are rare; age makes them less so"}},
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
				prior := b.InTolerance()
				prior[i], prior[j] = b.shift(i), b.shift(j)
				out = append(out, Case{Parts: []string{b.Parts[i].Name, b.Parts[j].Name}, Shifts: []int{i, j}, Hypothesis: posterior.Hypothesis{Prior: prior}})
			}
		}
		return out
	},
}
