package cause

import "offbeat/fit/posterior"

// twoShifted: two parts out of tolerance, each pair a case of its own.
var twoShifted = Cause{"shifted", "two_shifted", func(b *Board) []Case {
	var out []Case
	for i := range b.Parts {
		for j := i + 1; j < len(b.Parts); j++ {
			prior := b.InTolerance()
			prior[i], prior[j] = b.shift(i), b.shift(j)
			out = append(out, Case{Parts: []string{b.Parts[i].Name, b.Parts[j].Name}, Hypothesis: posterior.Hypothesis{Prior: prior}})
		}
	}
	return out
}}
