package cause

import (
	"fmt"
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// clock: the instrument's rate is off by a factor whose logarithm is normal with standard deviation 0.02, in
// place of its stated limit; the parts are in tolerance.
var clock = Cause{
	Name:    "clock",
	Key:     "clock",
	Passing: true,
	Odds:    []Row{{"", 0.005, 0.005, "the instrument's time base is the least likely"}},
	Words: Words{
		Kind:    "instrument clock wrong",
		Title:   "instrument clock wrong",
		Detail:  clockDetail,
		Curve:   "instrument clock",
		Lot:     "the instrument's clock is wrong",
		Retune:  "the likeliest cause is the instrument's clock: take the times with a second instrument before any part is changed",
		Repair:  "Take the times with an instrument whose clock is known",
		Form:    "the instrument's rate off by a factor whose logarithm is normal with standard deviation 0.02",
		Meaning: "The instrument's time base is wrong by more than its class allows: a factor whose logarithm is normal with standard deviation 0.02. It looks like another capacitance; a second instrument tells them apart.",
		See:     []string{"instrument clock", "confounded"},
	},
	Cases: func(b *Board) []Case {
		return []Case{b.with([]*Parameter{term("clock's logarithmic error", "1", circuit.Clock)}, posterior.Variable{Slot: circuit.Clock, Density: posterior.Normal(0, 0.02)})}
	},
}

func clockDetail(s *Said) string {
	side := "short"
	if s.Values[0] > 0 {
		side = "long"
	}
	return fmt.Sprintf("its times read %.3g %% %s", 100*math.Abs(math.Expm1(s.Values[0])), side)
}
