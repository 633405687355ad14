package cause

import (
	"slices"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// apart is where the lower threshold may lie as a ratio to the upper one, where each has moved by itself.
var apart = posterior.Uniform(0.30, 0.90)

// eachOdds is the share of the odds of moved thresholds that is added for both having moved apart: a timer gone bad is
// rarer than a loaded control pin (common practice).
const eachOdds = 0.25

// EachThreshold adds to a board's cases that both thresholds have moved, each by itself: the upper one as a control pin
// may, the lower one uniform over 0.30 … 0.90 of it. Two times alone cannot tell that from a moved part, so that it is for
// boards whose capacitor's waveform was seen. Without such a case a moved threshold would be forced on a leak.
func EachThreshold(cases []Case) []Case {
	out := slices.Clone(cases)
	for _, k := range cases {
		if k.Cause != "thresholds" {
			continue
		}
		each := k
		each.Odds *= eachOdds
		each.Hypothesis.Odds = each.Odds
		each.Override = append(slices.Clone(k.Override), posterior.Variable{Slot: circuit.Half, Density: apart})
		each.Fixed = slices.DeleteFunc(slices.Clone(k.Fixed), func(f posterior.Fixed) bool { return f.Slot == circuit.Half })
		out = append(out, each)
	}
	return out
}
