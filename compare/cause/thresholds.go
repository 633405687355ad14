package cause

import (
	"fmt"
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// controlRange is where a loaded or driven control pin may sit, as a ratio to the supply.
var controlRange = posterior.Uniform(0.40, 0.90)

// apart is where the lower threshold may lie as a ratio to the upper one, where each has moved by itself, and apartShare
// what that adds to the odds: a timer gone bad is rarer than a loaded control pin (common practice).
var apart = posterior.Uniform(0.30, 0.90)

const apartShare = 0.25

// thresholds: the control pin is loaded or driven, its ratio to the supply uniform over 0.40 … 0.90, the lower threshold
// half of the upper with the spread that the timer's family has. Where the capacitor's waveform is seen, either may also have moved by itself: two times alone cannot
// tell that from a moved part, and without it a moved threshold would be forced on a leak.
var thresholds = Cause{
	Name: "thresholds",
	Key:  "thresholds",
	Odds: []Row{{"", 0.02, 0.02, "something on the control pin, or a worn timer"}},
	Shows: []Show{
		{"control pin", "", 0.6, "what loads or drives the pin can be seen, a worn timer can not (common practice)"},
	},
	Words: Words{
		Kind:    "thresholds moved",
		Title:   "thresholds moved",
		Detail:  thresholdsDetail,
		Curve:   "thresholds moved",
		Lot:     "the timers' thresholds have moved",
		Retune:  "the likeliest cause is at the control pin: see to it first, since other parts would only hide it until it changes again",
		Repair:  "Look for what loads the control pin, and take it off",
		Form:    "control-pin ratio uniform over 0.40 … 0.90 of the supply, the lower threshold half the upper, with the spread of the timer's own divider; where the capacitor's waveform is seen, beside that, at a quarter of its odds, each by itself: the lower one uniform over 0.30 … 0.90 of the upper",
		Meaning: "The control pin is loaded or driven, or the timer's divider is off: its ratio to the supply lies anywhere from 0.40 to 0.90, the lower threshold at half of it. Where the capacitor's waveform is seen, either threshold may also lie by itself.",
		See:     []string{"control pin"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Has(circuit.Upper) {
			return nil
		}
		moved := func() Case {
			return Case{
				Hypothesis: posterior.Hypothesis{
					Prior:    b.InTolerance(),
					Override: []posterior.Variable{{Slot: circuit.Upper, Density: b.ReadControl(controlRange)}},
				},
				Parameters: []*Parameter{
					{"control pin over supply", "1", 2. / 3, func(v *circuit.Values) float64 { return v[circuit.Upper] }},
					{"lower over upper threshold", "1", 0.5, func(v *circuit.Values) float64 { return v[circuit.Half] }},
				},
			}
		}
		both := moved()
		if !b.Waveform {
			return []Case{both}
		}
		each := moved()
		each.Override = append(each.Override, posterior.Variable{Slot: circuit.Half, Density: apart})
		each.Share = apartShare
		return []Case{both, each}
	},
}

// alikeThresholds is by how much the ratio of the thresholds may differ from that of a control pin's divider to count as it.
const alikeThresholds = 0.02

func thresholdsDetail(s *Said) string {
	upper, half := s.Values[0], s.Values[1]
	if s.Brief {
		return fmt.Sprintf("upper one at %.3g of the supply", upper)
	}
	if math.Abs(half-0.5) > alikeThresholds {
		return fmt.Sprintf("upper one at about %.3g of the supply instead of 0.667, lower one at %.3g instead of 0.333", upper, upper*half)
	}
	return fmt.Sprintf("control pin at about %.3g of the supply instead of 0.667", upper)
}
