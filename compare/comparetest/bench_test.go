package comparetest

import (
	"math"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// integrate gives the times of a drawn board from Kirchhoff's law, as the instrument shows them.
func (b *Board) integrate(h *hypothesis, s *state) (high, low float64, ok bool) {
	var err error
	switch {
	case h.circuit.Wiring.Device.Kind == wiring.Pair:
		high, low, err = fittest.Integrate(b.network(s))
	case b.Drawing.OnePulse:
		high, err = h.onBench(s, b.Drawing.Shares).Pulse()
	default:
		high, low, err = h.onBench(s, b.Drawing.Shares).Cycle(false)
	}
	if s.view == inverted {
		high, low = low, high
	}
	high, low = h.counted(high, low)
	stretch := math.Exp(s.v[circuit.Clock])
	return high * stretch, low * stretch, err == nil
}

// onBench is a drawn board as its cards and pins stand, for the independent integration.
func (h *hypothesis) onBench(s *state, shares map[string]float64) *fittest.Board {
	v, w := &s.v, h.circuit.Wiring
	pin := w.Device.Node
	b := &fittest.Board{Held: map[string]float64{wiring.Ground: 0, wiring.Supply: v[circuit.Supply], wiring.Minus: v[circuit.Minus]},
		Output: pin(wiring.PinOutput), High: v[circuit.Supply] - v[circuit.OutputDrop], Low: v[circuit.OutputLow] + v[circuit.Minus],
		DelayFall: v[circuit.DelayFall], Delay: v[circuit.DelayRise], Draws: map[string]float64{}}
	for node, share := range shares {
		b.Held[node] = share * v[circuit.Supply]
	}
	resistor := func(x, y string, ohm float64) { b.Resistors = append(b.Resistors, fittest.Two{A: x, B: y, Value: ohm}) }
	var used []string
	for _, c := range w.Cards {
		used = append(used, c.Nodes...)
		slot, _ := h.circuit.Slot(c.Name)
		wiper, potentiometer := h.circuit.Position(c.Name)
		n := c.Nodes
		switch {
		case c.Kind == wiring.Capacitor:
			b.Capacitors = append(b.Capacitors, fittest.Two{A: n[0], B: n[1], Value: v[slot]})
		case c.Kind == wiring.Diode:
			b.Diodes = append(b.Diodes, fittest.Two{A: n[0], B: n[1], Value: v[h.drop(c.Name)]})
		case potentiometer:
			resistor(n[0], n[1], v[slot]*v[wiper])
			resistor(n[1], n[2], v[slot]*(1-v[wiper]))
		default:
			resistor(n[0], n[1], v[slot])
		}
	}
	up := v[circuit.Upper] * v[circuit.Supply]
	switch w.Device.Kind {
	case wiring.Inverter:
		in := pin(wiring.PinIn)
		b.FallWhen = []fittest.Test{{Left: in, LeftBy: 1, RightBy: up}}
		b.RiseWhen = []fittest.Test{{LeftBy: up * v[circuit.Half], Right: in, RightBy: 1}}
		b.Draws[in] = v[circuit.Bias]
	case wiring.Comparator:
		plus, minus := pin(wiring.PinPlus), pin(wiring.PinMinus)
		b.FallWhen = []fittest.Test{{Left: minus, LeftBy: 1, Right: plus, RightBy: 1}}
		b.RiseWhen = []fittest.Test{{Left: plus, LeftBy: 1, Right: minus, RightBy: 1}}
		b.Draws[minus], b.Draws[plus] = v[circuit.Bias], v[circuit.OtherBias]
	default:
		control, by := "", up
		if node := pin(wiring.PinControl); w.Loaded(node) {
			control, by = node, 1
			resistor(wiring.Supply, node, v[circuit.Ladder]*(1-v[circuit.Upper]))
			resistor(node, wiring.Ground, v[circuit.Ladder]*v[circuit.Upper])
		}
		b.FallWhen = []fittest.Test{{Left: pin(wiring.PinThreshold), LeftBy: 1, Right: control, RightBy: by}}
		b.RiseWhen = []fittest.Test{{Left: control, LeftBy: by * v[circuit.Half], Right: pin(wiring.PinTrigger), RightBy: 1}}
		b.Draws[pin(wiring.PinThreshold)] = v[circuit.Bias]
		if node := pin(wiring.PinDischarge); slices.Contains(used, node) {
			b.Switch, b.Saturation, b.Ohm = node, v[circuit.SwitchVoltage], v[circuit.SwitchResistance]
		}
	}
	return b
}

// drop is the slot of a diode's.
func (h *hypothesis) drop(diode string) circuit.Slot {
	for _, q := range h.terms {
		if q.Name == "drop of "+diode {
			return q.Slot
		}
	}
	return circuit.DiodeDrop
}

// network is a drawn board of one of the shipped circuits, sound, for the strange faults and for the multivibrator, which is
// no wiring.
func (b *Board) network(s *state) fittest.Network {
	v := &s.v
	n := fittest.Network{Circuit: b.Drawing.Name, Supply: v[circuit.Supply], OutputHigh: v[circuit.Supply] - v[circuit.OutputDrop], OutputLow: v[circuit.OutputLow],
		Upper: v[circuit.Upper], Lower: v[circuit.Upper] * v[circuit.Half], Saturation: v[circuit.SwitchVoltage], OnResistance: v[circuit.SwitchResistance],
		DelayFall: v[circuit.DelayFall], DelayRise: v[circuit.DelayRise], Bias: v[circuit.Bias], Diode: v[circuit.DiodeDrop],
		Breakdown: v[circuit.Breakdown], BaseEmitter: v[circuit.BaseEmitter], Collector: v[circuit.Collector], Reference: v[circuit.Supply] / 2}
	for i, p := range b.Design.Parts {
		switch x := s.parts[i]; p.Name {
		case "R1":
			n.R1 = x
		case "R2":
			n.R2 = x
		case "R3":
			n.Feedback = x / (n.R2 + x)
		case "C1":
			n.C = x
		case "C2":
			n.C2 = x
		}
	}
	return n
}

// Board is a problem whose true cause is known.
type Board struct {
	Problem
	Truth Truth
}

// Truth is what was drawn.
type Truth struct {
	Cause string
	Parts []string
	state *state
	wild  string // the part whose reading is wrong
}

// Value of a part by name.
func (b *Board) Value(part string) float64 {
	return b.Truth.state.parts[slices.IndexFunc(b.Design.Parts, func(q fit.Part) bool { return q.Name == part })]
}
