package cause

import "offbeat/fit/posterior"

// unexplained: the logarithms of the high and the low time are independently normal about the prediction with
// standard deviation 1, so that a misfit is never forced on a part; the parts are in tolerance.
var unexplained = Cause{"unexplained", "unexplained", func(b *Board) []Case {
	return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance(), Unexplained: true}}}
}}
