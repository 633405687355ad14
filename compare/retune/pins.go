package retune

import (
	"math"
	"slices"

	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// mostFree is how many nodes without a known voltage a network may have; the boards that are met have one or two.
const mostFree = 8

// network is the resistors of a board as a pin of its device sees them: at the instant when it switches a swinging
// capacitor's node stands at a threshold, a held one at its source, and Kirchhoff's current law gives the others.
type network struct {
	edges []edge
	share []float64 // of the supply, of each node from free on; NaN: the pin's own, threshold: the one that was reached
	free  int       // the nodes before that
	on    []bool    // scratch: the diodes that conduct
}

// threshold stands for the share at which a capacitor's node is.
const threshold = -1

// edge is a resistance or a diode between two nodes.
type edge struct {
	a, b     int
	ohm      circuit.Slot
	position circuit.Slot // of a wiper
	side     int          // 1, 2: the part of the track before and behind the wiper; 0: all of it
	diode    bool         // from a to b
}

// networkOf lays out what hangs together with a pin; nil where the board has no wiring or nothing is on the pin.
func networkOf(c *circuit.Circuit, pin string) *network {
	w := c.Wiring
	if w == nil || w.Device.Kind != wiring.Timer || !w.Tied(w.Device.Node(pin)) {
		return nil
	}
	at := w.Device.Node(pin)
	known := map[string]float64{wiring.Ground: 0, at: math.NaN()}
	for _, h := range w.Held[1:] { // a source that is not known counts as the supply
		known[h] = 1
	}
	for i := range w.Cards {
		k := &w.Cards[i]
		for _, n := range k.Nodes {
			if _, met := known[n]; !met && k.Kind == wiring.Capacitor && !w.Idle(k) {
				known[n] = threshold
			}
		}
	}
	var loose, fixed []string
	for _, k := range w.Cards {
		for _, n := range k.Nodes {
			if _, met := known[n]; !met && !slices.Contains(loose, n) {
				loose = append(loose, n)
			} else if met && !slices.Contains(fixed, n) {
				fixed = append(fixed, n)
			}
		}
	}
	net := &network{free: len(loose)}
	for _, n := range fixed {
		net.share = append(net.share, known[n])
	}
	all := slices.Concat(loose, fixed)
	node := func(n string) int { return slices.Index(all, n) }
	for i := range w.Cards {
		k := &w.Cards[i]
		slot, _ := c.Slot(k.Name)
		last := k.Nodes[len(k.Nodes)-1]
		switch {
		case k.Kind == wiring.Capacitor:
		case k.Kind == wiring.Potentiometer && !k.Variable():
			position, _ := c.Position(k.Name)
			net.edges = append(net.edges, edge{node(k.Nodes[0]), node(k.Nodes[1]), slot, position, 1, false}, edge{node(k.Nodes[1]), node(last), slot, position, 2, false})
		default:
			net.edges = append(net.edges, edge{node(k.Nodes[0]), node(last), slot, 0, 0, k.Kind == wiring.Diode})
		}
	}
	if net.free > mostFree {
		return nil
	}
	net.on = make([]bool, len(net.edges))
	return net
}

// current is what the pin carries in A while it stands at a share of the supply and the capacitors at another; a diode
// counts as a wire where it conducts.
func (n *network) current(v *circuit.Values, pin, capacitor float64) float64 {
	supply := v[circuit.Supply]
	volts := func(free *[mostFree]float64, at int) float64 {
		if at < n.free {
			return free[at]
		}
		switch s := n.share[at-n.free]; {
		case math.IsNaN(s):
			return pin * supply
		case s == threshold:
			return capacitor * supply
		default:
			return s * supply
		}
	}
	on := n.on
	clear(on)
	var x [mostFree]float64
	for range n.edges { // each pass can turn a diode that the one before has left at a wrong voltage
		x = n.solve(v, on, volts)
		settled := true
		for i := range n.edges {
			if e := &n.edges[i]; e.diode && !on[i] && volts(&x, e.a) > volts(&x, e.b)*hair {
				on[i], settled = true, false
			}
		}
		if settled {
			break
		}
	}
	sum := 0.0
	for i := range n.edges {
		e := &n.edges[i]
		for _, end := range [2][2]int{{e.a, e.b}, {e.b, e.a}} {
			if end[0] >= n.free && math.IsNaN(n.share[end[0]-n.free]) {
				sum += (volts(&x, end[1]) - pin*supply) * e.siemens(v, on[i])
			}
		}
	}
	return math.Abs(sum)
}

// siemens is the edge's conductance.
func (e *edge) siemens(v *circuit.Values, on bool) float64 {
	switch {
	case e.diode && !on:
		return 0
	case e.diode:
		return 1
	case e.side == 1:
		return 1 / (v[e.ohm] * v[e.position])
	case e.side == 2:
		return 1 / (v[e.ohm] * (1 - v[e.position]))
	}
	return 1 / v[e.ohm]
}

// solve gives the free nodes' voltages: elimination on a matrix that is diagonally dominant, so that it wants no pivots.
func (n *network) solve(v *circuit.Values, on []bool, volts func(free *[mostFree]float64, at int) float64) (x [mostFree]float64) {
	var m [mostFree][mostFree + 1]float64
	for i := range n.edges {
		e := &n.edges[i]
		g := e.siemens(v, on[i])
		for _, end := range [2][2]int{{e.a, e.b}, {e.b, e.a}} {
			if k := end[0]; k < n.free {
				m[k][k] += g
				if end[1] < n.free {
					m[k][end[1]] -= g
				} else {
					m[k][mostFree] += g * volts(&x, end[1])
				}
			}
		}
	}
	for k := range n.free {
		for r := k + 1; r < n.free && m[k][k] > 0; r++ {
			f := m[r][k] / m[k][k]
			for c := k; c <= mostFree; c++ {
				m[r][c] -= f * m[k][c]
			}
		}
	}
	for k := n.free - 1; k >= 0; k-- {
		sum := m[k][mostFree]
		for c := k + 1; c < n.free; c++ {
			sum -= m[k][c] * x[c]
		}
		if m[k][k] > 0 {
			x[k] = sum / m[k][k]
		}
	}
	return x
}

// hair lets a value pass that stands at the limit itself.
const hair = 1 + 1e-9
