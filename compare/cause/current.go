package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// leastCurrent and mostCurrent bound the current at the timing node, over what charges the capacitor through its resistors at
// two thirds of the supply (common practice).
const leastCurrent, mostCurrent = 0.01, 0.5

// current: a current flows out of the timing node or into it that does not go with its voltage: a damaged input, a leak from
// the supply, a semiconductor that leaks; log-uniform, to either side as often.
var current = Cause{
	Name: "current",
	Key:  "current",
	Odds: []Row{{"", 0.005, 0.015, "a damaged input, or damp between the node and a rail: half as often as a leak of the capacitor (common practice)"}},
	Shows: []Show{
		{"warm-up", "", 0.4, "damp dries, a junction's leak doubles with each ten kelvin (common practice)"},
	},
	Words: Words{
		Kind:  "current at the timing node",
		Title: "stray current at the timing node",
		Detail: func(s *Said) string {
			if s.Values[0] < 0 {
				return "about " + Format(-s.Values[0], "A") + " into it"
			}
			return "about " + s.Value(0) + " out of it"
		},
		Curve:   "current at the timing node",
		Lot:     "the boards have a stray current at the timing node",
		Retune:  "the likeliest cause is a stray current at the timing node, which changes with heat and damp: clean the board or change the device first, then tune",
		Repair:  "Clean the board around the timing node, else change the device",
		Form:    "a current at the timing node, log-uniform from 0.01 to 0.5 of what charges it at two thirds of the supply, out of it or into it as often",
		Meaning: "A current flows out of the timing node or into it, whatever its voltage: a damaged input, a bad semiconductor, damp toward a rail. One half-cycle gets longer and the other shorter.",
		Also:    []string{"stray current", "input current"},
		See:     []string{"leakage"},
	},
	Cases: func(b *Board) []Case {
		v, err := b.Circuit.Typical(b.Design)
		if w := b.Circuit.Wiring; err != nil || !b.Circuit.Reads(circuit.Bias) || w == nil || w.Device.Kind == wiring.Pair { // a pair has two timing nodes
			return nil
		}
		full := (b.Design.Supply.Value - b.Design.Minus.Value) / 3 / b.Circuit.Charging(&v)
		said := []*Parameter{term("current out of the timing node", "A", circuit.Bias)}
		out, in := b.with(said, logEven(circuit.Bias, leastCurrent*full, mostCurrent*full)), b.with(said, logEven(circuit.Bias, -mostCurrent*full, -leastCurrent*full))
		out.Share, in.Share = 0.5, 0.5
		return []Case{out, in}
	},
}
