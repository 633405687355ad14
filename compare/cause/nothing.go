package cause

import "offbeat/fit/posterior"

// nothing: every part in tolerance, uniform over nominal (1-T) … nominal (1+T) (JCGM 100 4.3.7).
var nothing = Cause{"nothing", "nothing", func(b *Board) []Case {
	return []Case{{Hypothesis: posterior.Hypothesis{Prior: b.InTolerance()}}}
}}
