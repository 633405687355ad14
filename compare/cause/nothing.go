package cause

import "offbeat/fit/posterior"

// nothing: every part in tolerance, uniform over nominal (1-T) … nominal (1+T) (JCGM 100 4.3.7).
var nothing = Cause{
	Name: Nothing,
	Key:  "nothing",
	Odds: []Row{{"", 1, 1, "all other odds are against this one"}},
	Words: Words{
		Kind:    "nothing wrong",
		Title:   "nothing wrong",
		Detail:  func(*Said) string { return "every part in tolerance" },
		Curve:   "nothing wrong",
		Lot:     "nothing moved",
		Retune:  Cures,
		Form:    "every part uniform over nominal (1-T) … nominal (1+T)",
		Meaning: "Every part inside its tolerance, uniformly. The odds of all other causes are against this one.",
		Also:    []string{"nothing wrong"},
		See:     []string{"prior odds"},
	},
	Cases: func(b *Board) []Case { return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance()}}} },
}
