package cause

import (
	"fmt"
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// controlRange is where a loaded or driven control pin may sit, as a ratio to the supply.
var controlRange = posterior.Uniform(0.40, 0.90)

// apart is where the lower threshold may lie as a ratio to the upper one, where it has moved by itself, and tripped by how much
// of the supply noise may trip both early (common practice).
var (
	apart   = posterior.Uniform(0.30, 0.90)
	tripped = [2]float64{0.005, 0.1}
)

// The shares of the ways in which the thresholds move: something on the control pin, one of them by itself, both inward by
// noise; and, beside them, each by itself where the capacitor's waveform is seen, which alone can tell: without it a moved
// threshold would be forced on a leak (common practice).
const pinShare, upperShare, lowerShare, noiseShare, eachShare = 0.5, 0.15, 0.15, 0.2, 0.25

// thresholds: the control pin is loaded or driven, its ratio to the supply uniform over 0.40 … 0.90, the lower threshold
// half of the upper with the spread that the timer's family has; or one threshold is off by itself; or noise on the supply or
// on the node trips both early.
var thresholds = Cause{
	Name: "thresholds",
	Key:  "thresholds",
	Odds: []Row{{"", 0.02, 0.10, "something on the control pin, noise, or a worn timer: a linear circuit fails eight times as often as a film resistor and five times as a film capacitor (MIL-HDBK-217F appendix A); most of that stops the board (common practice)"}},
	Shows: []Show{
		{"control pin", "", 0.6, "what loads or drives the pin can be seen, a worn timer can not (common practice)"},
	},
	Words: Words{
		Kind:    "thresholds moved",
		Title:   "thresholds moved",
		Detail:  thresholdsDetail,
		Curve:   "thresholds moved",
		Lot:     "the devices' thresholds have moved",
		Retune:  "the likeliest cause is at the thresholds: see to the control pin and the supply's noise first, since other parts would only hide it until it changes again",
		Repair:  "Look for what loads the control pin, and for noise on the supply; else change the device",
		Form:    "half: the control pin's ratio uniform over 0.40 … 0.90 of the supply, the lower threshold half the upper, with the spread of the timer's own divider; 0.15: the upper one alone so; 0.15: the lower one alone, 0.30 … 0.90 of the upper; 0.2: both tripped early by 0.005 … 0.1 of the supply; where the capacitor's waveform is seen, beside that, a quarter: each by itself",
		Meaning: "The control pin is loaded or driven, or the device's divider is off: its ratio to the supply lies anywhere from 0.40 to 0.90, the lower threshold at half of it; or one threshold is off by itself; or noise trips both before the capacitor is there.",
		See:     []string{"control pin"},
	},
	Cases: func(b *Board) []Case {
		v, err := b.Circuit.Typical(b.Design)
		if err != nil || !b.Circuit.Reads(circuit.Upper) {
			return nil
		}
		upper := v[circuit.Upper]
		moved := func(share float64, tie func(v *circuit.Values), own ...posterior.Variable) Case {
			c := b.with([]*Parameter{term("upper threshold over supply", "1", circuit.Upper), term("lower over upper threshold", "1", circuit.Half)}, own...)
			c.Share, c.Tie, c.Parameters[0].Nominal, c.Parameters[1].Nominal = share, tie, upper, v[circuit.Half]
			return c
		}
		alone := moved(upperShare, func(v *circuit.Values) { v[circuit.Half] *= upper / v[circuit.Upper] }, posterior.Variable{Slot: circuit.Upper, Density: controlRange})
		early := moved(noiseShare, func(v *circuit.Values) {
			v[circuit.Half] = (upper*(1+v[circuit.Half]) - v[circuit.Upper]) / v[circuit.Upper]
		},
			posterior.Variable{Slot: circuit.Upper, Density: posterior.Uniform(upper-tripped[1], upper-tripped[0])})
		for _, k := range []*Case{&alone, &early} {
			k.LogFactor = logAt(b.control, upper) // the pin itself is where it should be
		}
		out := []Case{alone, early}
		if !b.Circuit.OnePulse { // a pulse ends at the upper one, whatever began it
			out = append(out, moved(lowerShare, nil, posterior.Variable{Slot: circuit.Half, Density: apart}))
		}
		if !b.Circuit.Has(circuit.Upper) {
			return out
		}
		pin := posterior.Variable{Slot: circuit.Upper, Density: b.ReadControl(controlRange)}
		out = append(out, moved(pinShare, nil, pin))
		if b.Waveform {
			out = append(out, moved(eachShare, nil, pin, posterior.Variable{Slot: circuit.Half, Density: apart}))
		}
		return out
	},
}

// alikeThresholds is by how much the ratio of the thresholds may differ from that of a control pin's divider to count as it.
const alikeThresholds = 0.02

func thresholdsDetail(s *Said) string {
	upper, half := s.Values[0], s.Values[1]
	was, ratio := s.Parameters[0].Nominal, s.Parameters[1].Nominal
	switch {
	case s.Brief:
		return fmt.Sprintf("upper one at %.3g of the supply", upper)
	case math.Abs(half-ratio) > alikeThresholds:
		return fmt.Sprintf("upper one at about %.3g of the supply instead of %.3g, lower one at %.3g instead of %.3g", upper, was, upper*half, was*ratio)
	}
	return fmt.Sprintf("control pin at about %.3g of the supply instead of %.3g", upper, was)
}
