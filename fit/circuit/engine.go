package circuit

import "slices"

// engine is a wiring's compiled law. It is read-only once made.
type engine struct {
	n        int     // charged nodes
	timing   int     // the timing node's number among them
	touching *engine // the same with a bad contact at the first capacitor
	diodes   int
	onePulse bool
	ends     [2]int // differences that end the high and the low state
	pieces   [2][]piece
	charges  *tape
	resist   *tape // what the timing node charges through, and the path from the discharge pin to it
	hasPath  bool
	quick    *tape  // one charged node, the diodes as they are in the nominal cycle
	sound    *tape  // the same with none of the absent faults; nil: quick
	absent   []Slot // the faults that sound leaves out
	nominal  [2]int // which diodes conduct at the end of each state of the nominal cycle
	dwell    [2]float64
	pace     [2]float64 // the slowest rates in the nominal cycle
	nodes    []string   // of the states
	senses   [2]int     // the state that is compared as each state of the device ends; -1: none of them is
	rising   [2]bool    // it is compared from below
}

// piece is one state of the device and of the diodes.
type piece struct {
	tape   *tape // nil: it cannot be
	frozen int   // states that a diode holds
	drains int   // of these, those that it takes current from
}

// charges are the capacitances of one board.
type charges struct {
	matrix [mostStates][mostStates]float64
	jump   [mostStates]float64 // V by which each node rises as the output does
	start  [mostStates]float64 // V with every capacitor empty and the output high
}

// compile turns a network into its law. charging and path are the resistances from which its faults count.
func (n *network) compile(onePulse bool, charging, path expr) *engine {
	b := n.b
	e := &engine{n: len(n.charged), timing: n.timing, diodes: len(n.diodes), onePulse: onePulse, ends: [2]int{len(n.compare[0]), len(n.compare[1])}}
	names := map[int]string{}
	for name, i := range n.index {
		names[i] = name
	}
	for _, p := range n.charged {
		e.nodes = append(e.nodes, names[p])
	}
	for s := range e.senses {
		e.senses[s] = -1
		for _, c := range n.compare[s] {
			for i, p := range []int{c.second, c.first} {
				if p >= 0 && n.isState(p) {
					e.senses[s], e.rising[s] = n.stateOf[p], i == 1
				}
			}
		}
	}
	e.hasPath = path != noExpr
	n.faults(charging, path)
	if !e.hasPath {
		path = b.constant(0)
	}
	e.resist = b.compile(charging, path)
	matrix, swing, start := n.capacitances()
	by := b.constant(0)
	for _, s := range swing {
		if !b.is(s, 0) {
			by = b.sub(n.high, n.low)
		}
	}
	e.charges = b.compile(append(append(append([]expr{}, matrix...), append(swing, start...)...), by)...)
	for s, low := range []bool{false, true} {
		e.pieces[s] = make([]piece, 1<<e.diodes)
		for mask := range e.pieces[s] {
			e.pieces[s][mask] = n.piece(low, mask)
		}
	}
	return e
}

// resistances finds what the timing node charges through, in the high state with the diodes as they are midway, and the
// resistance from the discharge pin to it, noExpr where there is none: those of a current that lasts, for which the other
// capacitors are no way.
func (n *network) resistances() (charging, path expr) {
	timing := n.charged[n.timing]
	path = n.path(timing)
	defer n.alone(timing)()
	g, _, _ := n.solve(false, n.midway).own(0)
	if n.b.is(g, 0) { // nothing charges it while the diodes are so
		g = n.b.constant(1)
	}
	return n.b.invert(g), path
}

// faults enters the discharge switch, whose worn part counts from the path, and the leak across each capacitor that swings,
// which counts from what the timing node charges through.
func (n *network) faults(charging, path expr) {
	if n.discharge >= 0 {
		ohm := n.b.slot(SwitchResistance)
		if path != noExpr && !n.b.lacks(WeakRatio) {
			ohm = n.b.add(ohm, n.b.mul(n.b.slot(WeakRatio), path))
		}
		n.resistors = append(n.resistors, resistor{p: n.discharge, q: n.bottom, ohm: ohm, special: true})
	}
	for _, c := range n.caps {
		if c.leak != 0 && !n.b.lacks(c.leak) {
			ohm := n.b.invert(n.b.path(n.b.mul(n.b.slot(c.leak), charging)))
			n.resistors = append(n.resistors, resistor{p: c.at[0], q: c.at[1], ohm: ohm})
		}
	}
}

// piece compiles one state of the device and of the diodes.
func (n *network) piece(low bool, mask int) piece {
	l := n.solve(low, mask)
	if !l.valid {
		return piece{}
	}
	var out []expr
	for i := range n.charged {
		g, current, special := l.own(i)
		if special != nil {
			c := n.b.invert(n.b.least(special.ohm))
			g, current = n.b.add(g, c), n.b.add(current, n.b.mul(c, special.volt))
		}
		out = append(out, g, current)
		for k := i + 1; k < len(n.charged); k++ {
			out = append(out, l.between(i, k))
		}
	}
	for _, d := range l.differences() {
		out = append(out, d...)
	}
	for _, h := range l.conditions(mask) {
		out = append(out, h...)
	}
	var p piece
	for i := range n.charged {
		if k := slices.Index(l.frozen, i); k >= 0 {
			volt, drains := l.clamp(n.diodes[l.clamps[k]])
			out = append(out, volt)
			p.frozen |= 1 << i
			if drains {
				p.drains |= 1 << i
			}
		}
	}
	p.tape = n.b.compile(out...)
	if p.tape.size > largeTape {
		return piece{}
	}
	return p
}

// load computes the board's capacitances.
func (e *engine) load(v *Values, c *charges) {
	var out [mostStates*(mostStates+1)/2 + 2*mostStates + 1]float64
	e.charges.eval(v, out[:])
	at, n := 0, e.n
	for i := range n {
		for k := i; k < n; k++ {
			c.matrix[i][k], c.matrix[k][i] = out[at], out[at]
			at++
		}
	}
	swing, start := out[at:at+n], out[at+n:at+2*n]
	by := out[at+2*n]
	var x [mostStates]float64
	for i := range n {
		x[i] = swing[i] * by
	}
	c.jump = c.shared(n, x)
	copy(x[:], start)
	c.start = c.shared(n, x)
}

// shared are the voltages that charges q make: matrix x = q (Gauss; the matrix is dominated by its diagonal).
func (c *charges) shared(n int, q [mostStates]float64) [mostStates]float64 {
	a := c.matrix
	for k := range n {
		for i := k + 1; i < n; i++ {
			if f := a[i][k] / a[k][k]; f != 0 {
				for j := k; j < n; j++ {
					a[i][j] -= f * a[k][j]
				}
				q[i] -= f * q[k]
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			q[i] -= a[i][j] * q[j]
		}
		q[i] /= a[i][i]
	}
	return q
}

// reads says whether a slot has a say in the times.
func (e *engine) reads(s Slot) bool {
	for _, pieces := range e.pieces {
		for _, p := range pieces {
			if p.tape != nil && p.tape.reads(s) {
				return true
			}
		}
	}
	return e.charges.reads(s)
}

// ratios gives what the timing node charges through and the path from the discharge pin to it, ohm.
func (e *engine) ratios(v *Values) (charging, path float64) {
	var out [2]float64
	e.resist.eval(v, out[:])
	return out[0], out[1]
}
