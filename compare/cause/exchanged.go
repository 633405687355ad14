package cause

import (
	"math"

	"offbeat/fit/posterior"
)

// exchangedOdds are those of each part.
var exchangedOdds = []Row{{"", 0.02, 0.001, "likewise a builder's slip; of n of a kind each pair has 1/(n-1) of it"}}

// exchanged: two parts of a kind trade places, each keeping its own tolerance. Where both are alike in value and
// tolerance that changes nothing, and the pair is left out. The odds are per part: of n of a kind each has n-1 others to
// trade with, so that a pair's are the row's over n-1.
var exchanged = Cause{
	Name:  "exchanged",
	Key:   "exchanged",
	Parts: 2,
	Odds:  exchangedOdds,
	Shows: []Show{
		{"marking", "", 0.97, "the parts say what they are (common practice)"},
	},
	Words: Words{
		Kind:    "two parts exchanged",
		Title:   "%s exchanged",
		Curve:   "%s exchanged",
		Lot:     "%s are exchanged",
		Retune:  Cures,
		Repair:  "Put %s each in its own place",
		Form:    "two resistors' or two capacitors' values trade places, each in its own tolerance",
		Meaning: "Two resistors, or two capacitors, sit each in the place of the other, each in its own tolerance.",
		Also:    []string{"swapped"},
	},
	Cases: func(b *Board) []Case {
		var out []Case
		for i, first := range b.Parts {
			for j, second := range b.Parts[:i] {
				if b.Circuit.Parts[i].Idle || b.Circuit.Parts[j].Idle || first.Kind != second.Kind || math.Abs(first.Nominal-second.Nominal) <= 1e-9*first.Nominal && first.Minus == second.Minus && first.Plus == second.Plus {
					continue
				}
				prior := b.Loose()
				prior[i] = b.Read(i, posterior.UniformValue(limits(second, second.Nominal)))
				prior[j] = b.Read(j, posterior.UniformValue(limits(first, first.Nominal)))
				out = append(out, Case{Parts: []string{second.Name, first.Name}, Fitted: []int{j, i}, Preset: b.odds.row(exchangedOdds, "") / float64(b.count(first.Kind)-1),
					Hypothesis: posterior.Hypothesis{Prior: prior}})
			}
		}
		return out
	},
}
