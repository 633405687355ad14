package cause

import (
	"math"

	"offbeat/fit/posterior"
)

// Unexplained is the name of the cause that says it is none of the listed ones.
const Unexplained = "unexplained"

// misfits are the standard deviations of the logarithms of the times about the prediction, each as likely: of boards with
// faults that no list holds (simulated: forgotten or surplus diodes, thresholds of another maker, slow comparators, sagging
// outputs, constant currents) as many are off by some percent as by half or by two.
var misfits = []float64{0.1, 0.3, 1}

// unexplained: the logarithms of the high and the low time are independently normal about the prediction with one of the
// misfits as standard deviation, so that a misfit is never forced on a part; the parts are in tolerance
// and the control pin may sit anywhere that the thresholds cause allows.
var unexplained = Cause{
	Name:    Unexplained,
	Key:     "unexplained",
	Passing: true,
	Odds:    []Row{{"", 0.03, 0.12, "what is not on this list: a tenth of all faults of a new board together, a fifth of those of a worked one, whose timer and joints have aged too (common practice)"}},
	Words: Words{
		Kind:    "unexplained",
		Title:   "unexplained: no listed cause fits",
		Curve:   "unexplained",
		Lot:     "the cause is none of the listed ones",
		Retune:  "the likeliest cause is none of the listed ones, so no change can be promised anything: take the next reading first",
		Form:    "ln high time and ln low time independently normal about the prediction with standard deviation 0.1, 0.3 or 1, each as likely",
		Meaning: "None of the listed causes: the times are only known to lie about the prediction, each logarithm with standard deviation 0.1, 0.3 or 1. It keeps a misfit from being forced on a part.",
		Also:    []string{"none of these"},
	},
	Cases: func(b *Board) []Case {
		return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance(), Unexplained: true, Misfit: misfits, LogFactor: math.Log(b.ReadControl(controlRange).Mass())}}}
	},
}
