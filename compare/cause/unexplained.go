package cause

import (
	"math"

	"offbeat/fit/posterior"
)

// unexplained: the logarithms of the high and the low time are independently normal about the prediction with
// standard deviation 1, so that a misfit is never forced on a part; the parts are in tolerance
// and the control pin may sit anywhere that the thresholds cause allows.
var unexplained = Cause{"unexplained", "unexplained", func(b *Board) []Case {
	return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance(), Unexplained: true, LogFactor: math.Log(b.ReadControl(controlRange).Mass())}}}
}}
