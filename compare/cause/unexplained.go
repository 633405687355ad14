package cause

import (
	"math"

	"offbeat/fit/posterior"
)

// Unexplained is the name of the cause that says no listed one fits.
const Unexplained = "unexplained"

// unexplained: the logarithms of the high and the low time are independently normal about the prediction with
// standard deviation 1, so that a misfit is never forced on a part; the parts are in tolerance
// and the control pin may sit anywhere that the thresholds cause allows.
var unexplained = Cause{
	Name:    Unexplained,
	Key:     "unexplained",
	Passing: true,
	Odds:    []Row{{"", 0.01, 0.01, "what is not on this list"}},
	Words: Words{
		Kind:    "unexplained",
		Title:   "unexplained: no listed cause fits",
		Curve:   "unexplained",
		Lot:     "no listed cause fits",
		Retune:  "no listed cause explains the times, so no change can be promised anything: take the next reading first",
		Form:    "ln high time and ln low time independently normal about the prediction with standard deviation 1",
		Meaning: "None of the listed causes: the times are only known to lie about the prediction, each logarithm with standard deviation 1. It keeps a misfit from being forced on a part.",
		Also:    []string{"none of these"},
	},
	Cases: func(b *Board) []Case {
		return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance(), Unexplained: true, LogFactor: math.Log(b.ReadControl(controlRange).Mass())}}}
	},
}
