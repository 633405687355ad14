package circuit

import (
	"fmt"
	"slices"

	"offbeat/fit/wiring"
)

// means is how a wiring's own quantities are held in the values.
type means struct {
	parts     []string           // names in slot order
	slot      map[string]Slot    // of a part: its value; of a potentiometer: its track
	position  map[string]Slot    // of a potentiometer with three ends
	drop      map[string]Slot    // of a diode
	node      map[string]Slot    // of a node held by a source, V
	share     map[string]float64 // of a node held at a share of the supply
	ratio     map[string]bool    // the node's slot is a ratio to the supply
	leak      map[string]Slot    // of a capacitor that swings
	next      Slot               // the first that is free
	minus     bool               // there is a negative rail
	relative  []Slot             // of leaks and of the contact: ratios to what the timing node charges through
	highStood bool               // the design states the output's levels
	lowStood  bool
}

// build makes the network of a wiring. contact, unless it is noExpr, is a resistance in series with its first capacitor.
func build(b *builder, w *wiring.Wiring, m *means, contact expr) (*network, error) {
	n := &network{b: b, index: map[string]int{}, discharge: -1, contact: contact}
	d := &w.Device
	supply := b.slot(Supply)
	n.held = nil
	n.output = n.node(d.Node(wiring.PinOutput))
	n.held[n.node(wiring.Ground)] = b.constant(0)
	n.held[n.node(wiring.Supply)] = supply
	for _, h := range w.Held[2:] {
		var volt expr
		if s, ok := m.node[h]; ok {
			volt = b.slot(s)
			if m.ratio[h] {
				volt = b.mul(volt, supply)
			}
		} else if x, ok := m.share[h]; ok {
			volt = b.mul(b.constant(x), supply)
		} else if h == wiring.Minus {
			volt = b.slot(Minus)
		} else {
			return nil, &wiring.Error{What: "the node " + h + " is held at no voltage", Want: "one in [nodes]"}
		}
		n.held[n.node(h)] = volt
	}
	n.levels(w, m)
	if err := n.enter(w, m); err != nil {
		return nil, err
	}
	n.pins(w)
	if err := n.charge(); err != nil {
		return nil, err
	}
	return n, n.findTiming(w)
}

// levels are the output's voltages.
func (n *network) levels(w *wiring.Wiring, m *means) {
	b := n.b
	n.high, n.low = b.sub(b.slot(Supply), b.slot(OutputDrop)), b.slot(OutputLow)
	if m.highStood {
		n.high = b.slot(OutputHigh)
	}
	if m.minus && !m.lowStood && w.Device.Kind == wiring.Comparator {
		n.low = b.add(n.low, b.slot(Minus))
	}
}

// enter lays out the cards that have a bearing on the times.
func (n *network) enter(w *wiring.Wiring, m *means) error {
	b := n.b
	for i := range w.Cards {
		c := &w.Cards[i]
		if w.Idle(c) {
			continue
		}
		var at []int
		for _, name := range c.Nodes {
			at = append(at, n.node(name))
		}
		value, known := m.slot[c.Name]
		if !known && c.Kind != wiring.Diode {
			return fmt.Errorf("%s has no value", c.Name)
		}
		switch {
		case c.Kind == wiring.Diode:
			n.diodes = append(n.diodes, diode{at[0], at[1], b.slot(m.drop[c.Name]), c})
		case c.Kind == wiring.Capacitor:
			card := [2]int{at[0], at[1]}
			if n.contact != noExpr && m.leak[c.Name] == LeakRatio {
				n.touch(at)
			}
			n.caps = append(n.caps, condenser{at[0], at[1], card, b.slot(value), m.leak[c.Name], c})
		case c.Kind == wiring.Potentiometer && !c.Variable():
			x := b.slot(m.position[c.Name])
			track := b.slot(value)
			n.resistors = append(n.resistors,
				resistor{p: at[0], q: at[1], ohm: b.least(b.mul(track, x))},
				resistor{p: at[1], q: at[2], ohm: b.least(b.mul(track, b.sub(b.constant(1), x)))})
		default:
			n.resistors = append(n.resistors, resistor{p: at[0], q: at[len(at)-1], ohm: b.slot(value)})
		}
	}
	return nil
}

// touch puts the bad contact between a capacitor and its node, on the side that is not held.
func (n *network) touch(at []int) {
	inner := n.node(" contact") // no node's name
	side := 0
	if n.isHeld(at[0]) {
		side = 1
	}
	n.resistors = append(n.resistors, resistor{p: at[side], q: inner, ohm: n.contact})
	at[side] = inner
}

// pins lays out what is inside the device.
func (n *network) pins(w *wiring.Wiring) {
	b, d := n.b, &w.Device
	one := b.constant(1)
	supply := b.slot(Supply)
	upper := b.mul(b.slot(Upper), supply)
	draws := func(p int, s Slot) {
		if !n.isHeld(p) {
			n.draws = append(n.draws, draw{p, b.slot(s)})
		}
	}
	switch d.Kind {
	case wiring.Inverter:
		in := n.node(d.Node(wiring.PinIn))
		draws(in, Bias)
		n.compare[0] = []comparison{{in, -1, one, upper}}
		n.compare[1] = []comparison{{-1, in, b.mul(upper, b.slot(Half)), one}}
	case wiring.Comparator:
		plus, minus := n.node(d.Node(wiring.PinPlus)), n.node(d.Node(wiring.PinMinus))
		own, other := minus, plus
		if !slices.ContainsFunc(n.caps, func(c condenser) bool { return c.p == minus || c.q == minus }) &&
			slices.ContainsFunc(n.caps, func(c condenser) bool { return c.p == plus || c.q == plus }) {
			own, other = plus, minus
		}
		draws(own, Bias)
		draws(other, OtherBias)
		n.compare[0] = []comparison{{minus, plus, one, one}}
		n.compare[1] = []comparison{{plus, minus, one, one}}
	default:
		threshold, trigger := n.node(d.Node(wiring.PinThreshold)), n.node(d.Node(wiring.PinTrigger))
		draws(threshold, Bias)
		control, level := -1, upper
		if pin := d.Node(wiring.PinControl); w.Loaded(pin) {
			control, level = n.node(pin), one
			if !n.isHeld(control) {
				// The three resistors inside, of which the lower two make upper of the supply while nothing else is tied there.
				ladder := b.slot(Ladder)
				n.resistors = append(n.resistors,
					resistor{p: n.node(wiring.Supply), q: control, ohm: b.least(b.mul(b.sub(one, b.slot(Upper)), ladder))},
					resistor{p: control, q: n.node(wiring.Ground), ohm: b.least(b.mul(b.slot(Upper), ladder))})
			}
		}
		half := b.mul(level, b.slot(Half))
		n.compare[0] = []comparison{{threshold, control, one, level}}
		if trigger != threshold && w.Runs == wiring.Astable {
			// The trigger comes first: while it is below its reference, the output stays high.
			n.compare[0] = append(n.compare[0], comparison{trigger, control, one, half})
		}
		n.compare[1] = []comparison{{control, trigger, half, one}}
		if w.Runs == wiring.Monostable {
			n.compare[1] = nil
		}
		if pin := d.Node(wiring.PinDischarge); w.Tied(pin) || pin == d.Node(wiring.PinThreshold) || pin == d.Node(wiring.PinTrigger) {
			n.discharge = n.node(pin)
			n.bottom = n.node(" switch") // no node's name
			n.held[n.bottom] = b.slot(SwitchVoltage)
		}
	}
}

// findTiming finds the charged node nearest to what is compared: the pin's own where a capacitor is on it.
func (n *network) findTiming(w *wiring.Wiring) error {
	for _, pin := range []string{wiring.PinThreshold, wiring.PinIn, wiring.PinMinus, wiring.PinPlus} {
		if p, ok := n.index[w.Device.Node(pin)]; ok && n.isState(p) {
			n.timing = n.stateOf[p]
			return nil
		}
	}
	if len(n.charged) > 0 {
		return nil // the first
	}
	return &wiring.Error{Line: w.Device.Line, Column: w.Device.Column, What: "neither the output nor the discharge pin reaches a capacitor that is compared", Want: "a resistor from one of them to it"}
}

// path is the resistance between the discharge pin and the timing node, the diodes as they are as the low state ends, or
// blocking, or conducting where none leads there otherwise.
func (n *network) path(to int) expr {
	if n.discharge < 0 || n.isState(n.discharge) {
		return noExpr
	}
	defer n.alone(to, n.discharge)()
	for k := range 1 << len(n.diodes) {
		l := n.solve(true, n.ending^k)
		if l.root[n.discharge] == l.root[to] || len(l.loops) > 0 { // a diode alone is no resistance to count from
			continue
		}
		if ohm, ok := l.adj[l.root[n.discharge]][l.root[to]]; ok {
			return ohm
		}
	}
	return noExpr
}

// capacitances are the states' matrix (its upper triangle, row by row), what the capacitors from the output give each
// state for a volt of its swing, and what they hold when the board is powered up with all of them empty.
func (n *network) capacitances() (matrix, swing, start []expr) {
	b := n.b
	k := len(n.charged)
	at := func(i, j int) int { return i*k + j }
	full := make([]expr, k*k)
	zero := b.constant(0)
	for i := range full {
		full[i] = zero
	}
	swing, start = make([]expr, k), make([]expr, k)
	for i := range k {
		swing[i], start[i] = zero, zero
	}
	for _, c := range n.caps {
		i, j := n.stateOf[c.p], n.stateOf[c.q]
		for _, end := range [][3]int{{i, j, c.q}, {j, i, c.p}} {
			own, other, node := end[0], end[1], end[2]
			if own < 0 {
				continue
			}
			full[at(own, own)] = b.add(full[at(own, own)], c.farad)
			switch {
			case other >= 0:
				full[at(own, other)] = b.sub(full[at(own, other)], c.farad)
			case node == n.output:
				swing[own] = b.add(swing[own], c.farad)
				start[own] = b.add(start[own], b.mul(c.farad, n.high))
			default:
				start[own] = b.add(start[own], b.mul(c.farad, n.holds(node, false)))
			}
		}
	}
	t := at(n.timing, n.timing)
	full[t] = b.add(full[t], b.slot(Stray))
	for i := range k {
		for j := i; j < k; j++ {
			matrix = append(matrix, full[at(i, j)])
		}
	}
	return matrix, swing, start
}
