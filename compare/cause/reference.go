package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// leastAside and mostAside bound by how much of the supply a comparator switches beside its reference (common practice: an offset
// of some millivolts is none of a board of volts; a middle rail without its second resistor, or a worn input, is as far as the
// other).
const leastAside, mostAside = 0.005, 0.15

// reference: a comparator switches above or below its reference: an offset, a middle rail that is not in the middle, damp at that
// node; log-uniform, to either side as often. One half-cycle gets longer and the other shorter, as by a leak.
var reference = Cause{
	Name: "reference",
	Key:  "reference",
	Odds: []Row{{"", 0.02, 0.10, "an offset, or a middle rail off: what of a timer is its thresholds (common practice)"}},
	Words: Words{
		Kind:  "comparator's reference off",
		Title: "comparator's reference off",
		Detail: func(s *Said) string {
			if s.Values[0] < 0 {
				return "about " + Format(-s.Values[0], "V") + " too low"
			}
			return "about " + s.Value(0) + " too high"
		},
		Curve:   "reference off",
		Lot:     "the comparators' references are off",
		Retune:  "the likeliest cause is at the comparator's reference: see to that and to what feeds it first, since other parts would only hide it",
		Repair:  "Measure the rail that the reference divides, and what loads that node; else change the comparator",
		Form:    "a comparator's reference too high or too low by 0.005 … 0.15 of the supply, log-uniform, to either side as often",
		Meaning: "A comparator switches above or below the voltage that its divider should make: by its own offset, by a middle rail that is not in the middle, or by damp at that node. One half-cycle gets longer and the other shorter, as a leak of the capacitor makes them.",
		Also:    []string{"offset", "input offset"},
		See:     []string{"thresholds", "leakage"},
	},
	Cases: func(b *Board) []Case {
		v, err := b.Circuit.Typical(b.Design)
		at := b.divider()
		if err != nil || at == nil || !b.Circuit.Reads(circuit.OtherBias) {
			return nil
		}
		conductance := func(v *circuit.Values) (sum float64) {
			for _, s := range at {
				sum += 1 / v[s]
			}
			return sum
		}
		swing := (b.Design.Supply.Value - b.Design.Minus.Value) * conductance(&v)
		aside := &Parameter{"reference above where it should be", "V", 0, func(v *circuit.Values) float64 { return -v[circuit.OtherBias] / conductance(v) }}
		low := b.with([]*Parameter{aside}, logEven(circuit.OtherBias, leastAside*swing, mostAside*swing))
		high := b.with([]*Parameter{aside}, logEven(circuit.OtherBias, -mostAside*swing, -leastAside*swing))
		low.Share, high.Share = 0.5, 0.5
		return []Case{low, high}
	},
}

// divider are the resistors that make a comparator's reference, from nodes that its input moves in nothing; nil: there is none such.
func (b *Board) divider() (at []circuit.Slot) {
	w := b.Circuit.Wiring
	if w == nil || w.Device.Kind != wiring.Comparator {
		return nil
	}
	for _, pin := range []string{wiring.PinPlus, wiring.PinMinus} {
		if at, ok := b.dividing(w.Device.Node(pin)); ok {
			return at
		}
	}
	return nil
}

func (b *Board) dividing(node string) (at []circuit.Slot, ok bool) {
	w := b.Circuit.Wiring
	for i := range w.Cards {
		c := &w.Cards[i]
		if c.Nodes[0] != node && c.Nodes[1] != node {
			continue
		}
		far := c.Nodes[0]
		if far == node {
			far = c.Nodes[1]
		}
		if slot, has := b.Circuit.Slot(c.Name); c.Kind != wiring.Resistor || !has || !w.IsHeld(far) && far != w.Device.Node(wiring.PinOutput) {
			return nil, false
		} else {
			at = append(at, slot)
		}
	}
	return at, len(at) > 0
}
