package circuit

import (
	"cmp"
	"slices"
)

// source is a branch from a node to a voltage.
type source struct {
	ohm, volt expr
	special   bool
}

// weighted is a node's voltage in terms of others: the constant and a weight for each neighbour.
type weighted struct {
	constant expr
	of       []int
	by       []expr
}

// law is Kirchhoff's law of one state of the device and of the diodes.
type law struct {
	n      *network
	low    bool
	root   []int  // of each node: the node that stands for it and all that conducting diodes tie to it
	offset []expr // its voltage above its root's
	linked []int  // diodes that tie, without resistance
	clamps []int  // diodes that hold a charged node; the states they hold
	frozen []int
	loops  []int // diodes that got an ohm
	lines  []resistor
	extra  []expr // of lines: the drop of a diode in it
	adj    []map[int]expr
	to     [][]source
	inject []expr
	known  []*weighted
	valid  bool
}

// solve eliminates all nodes without charge. mask says which diodes conduct.
func (n *network) solve(low bool, mask int) *law {
	b := n.b
	size := len(n.held)
	l := &law{n: n, low: low, valid: true, root: make([]int, size), offset: make([]expr, size), adj: make([]map[int]expr, size),
		to: make([][]source, size), inject: make([]expr, size), known: make([]*weighted, size)}
	for p := range size {
		l.root[p], l.offset[p], l.inject[p], l.adj[p] = p, b.constant(0), b.constant(0), map[int]expr{}
	}
	for _, r := range n.resistors {
		if low || !r.special {
			l.lines, l.extra = append(l.lines, r), append(l.extra, b.constant(0))
		}
	}
	for i, d := range n.diodes {
		if mask>>i&1 == 1 {
			l.conduct(i, d)
		}
	}
	for i, r := range l.lines {
		l.stamp(r, l.extra[i])
	}
	for _, d := range n.draws {
		l.injectAt(d.node, b.negative(d.ampere))
	}
	for {
		k := l.next()
		if k < 0 {
			return l
		}
		l.eliminate(k)
	}
}

// conduct ties the two ends of a diode.
func (l *law) conduct(i int, d diode) {
	b := l.n.b
	ra, rk := l.root[d.anode], l.root[d.cathode]
	heldA, stateA := l.n.isHeld(ra), l.n.isState(ra)
	heldK, stateK := l.n.isHeld(rk), l.n.isState(rk)
	switch {
	case ra == rk, heldA && heldK, stateA && stateK:
		l.loops = append(l.loops, i)
		l.lines = append(l.lines, resistor{p: d.anode, q: d.cathode, ohm: b.constant(oneOhm)})
		l.extra = append(l.extra, d.drop)
		return
	case heldA && stateK, stateA && heldK:
		state := l.n.stateOf[ra]
		if stateK {
			state = l.n.stateOf[rk]
		}
		if slices.Contains(l.frozen, state) {
			l.valid = false
		}
		l.clamps, l.frozen = append(l.clamps, i), append(l.frozen, state)
		return
	}
	// v(anode) - v(cathode) = drop; the root that is held or charged stays one.
	l.linked = append(l.linked, i)
	from, into := ra, rk
	shift := b.add(l.offset[d.cathode], b.sub(d.drop, l.offset[d.anode])) // v(ra) - v(rk)
	if heldA || stateA {
		from, into, shift = rk, ra, b.negative(shift)
	}
	for p := range l.root {
		if l.root[p] == from {
			l.root[p], l.offset[p] = into, b.add(l.offset[p], shift)
		}
	}
}

// clamp is the voltage at which a conducting diode holds a charged node; drains says that it takes current from it.
func (l *law) clamp(d diode) (volt expr, drains bool) {
	n, b := l.n, l.n.b
	ra, rk := l.root[d.anode], l.root[d.cathode]
	up := b.add(d.drop, b.sub(l.offset[d.cathode], l.offset[d.anode])) // v(ra) - v(rk)
	if n.isState(ra) {
		return b.add(n.holds(rk, l.low), up), true
	}
	return b.sub(n.holds(ra, l.low), up), false
}

func (l *law) injectAt(p int, ampere expr) {
	r := l.root[p]
	l.inject[r] = l.n.b.add(l.inject[r], ampere)
}

// stamp enters a resistor; drop is what a diode in it takes from p to q.
func (l *law) stamp(r resistor, drop expr) {
	b := l.n.b
	p, q := l.root[r.p], l.root[r.q]
	if p == q {
		return
	}
	// What flows from p to q: (v(p) + offset(p) - v(q) - offset(q) - drop) / ohm.
	shift := b.sub(b.sub(l.offset[r.p], l.offset[r.q]), drop)
	switch heldP, heldQ := l.n.isHeld(p), l.n.isHeld(q); {
	case heldP && heldQ:
	case heldQ:
		l.to[p] = append(l.to[p], source{r.ohm, b.sub(l.n.holds(q, l.low), shift), r.special})
	case heldP:
		l.to[q] = append(l.to[q], source{r.ohm, b.add(l.n.holds(p, l.low), shift), r.special})
	default:
		l.join(p, q, r.ohm)
		if !b.is(shift, 0) {
			i := b.div(shift, r.ohm)
			l.inject[p] = b.sub(l.inject[p], i)
			l.inject[q] = b.add(l.inject[q], i)
		}
	}
}

// join puts a resistance between two free roots, beside what lies there.
func (l *law) join(p, q int, ohm expr) {
	if was, ok := l.adj[p][q]; ok {
		ohm = l.n.b.invert(l.n.b.add(l.n.b.invert(was), l.n.b.invert(ohm)))
	}
	l.adj[p][q], l.adj[q][p] = ohm, ohm
}

// next is the free root to eliminate: the one with the fewest branches, the discharge pin last; -1: none is left.
func (l *law) next() int {
	var free []int
	for p := range l.root {
		if l.root[p] == p && !l.n.isHeld(p) && !l.n.isState(p) && l.known[p] == nil {
			free = append(free, p)
		}
	}
	if len(free) == 0 {
		return -1
	}
	degree := func(p int) int {
		branches := len(l.adj[p]) + len(l.to[p])
		if l.n.discharge >= 0 && l.root[l.n.discharge] == p {
			branches += len(l.root)
		}
		return branches
	}
	return slices.MinFunc(free, func(p, q int) int { return cmp.Compare(degree(p), degree(q)) })
}

// neighbours are the roots next to k, in order.
func (l *law) neighbours(k int) []int {
	var out []int
	for p := range l.adj[k] {
		out = append(out, p)
	}
	slices.Sort(out)
	return out
}

// eliminate replaces the star at k by the mesh of its neighbours: sums of positive conductances, no difference.
func (l *law) eliminate(k int) {
	b := l.n.b
	near, to, zero := l.neighbours(k), l.to[k], b.constant(0)
	special := slices.IndexFunc(to, func(s source) bool { return s.special })
	still := b.is(l.inject[k], 0)
	for _, p := range near {
		delete(l.adj[p], k)
	}
	if still && len(to) == 0 && len(near) == 2 {
		first, second := l.adj[k][near[0]], l.adj[k][near[1]]
		sum := b.add(first, second)
		l.join(near[0], near[1], sum)
		l.known[k] = &weighted{zero, near, []expr{b.div(second, sum), b.div(first, sum)}}
		return
	}
	if len(near) == 1 && len(to) > 0 {
		first, s := l.adj[k][near[0]], l.together(to, special, l.inject[k])
		sum := b.add(first, s.ohm)
		l.to[near[0]] = append(l.to[near[0]], source{sum, s.volt, false})
		l.known[k] = &weighted{b.div(b.mul(first, s.volt), sum), near, []expr{b.div(s.ohm, sum)}}
		return
	}
	sum, pull := zero, l.inject[k] // of all but the special: conductances, and what they draw the node to
	for _, p := range near {
		sum = b.add(sum, l.n.b.invert(l.adj[k][p]))
	}
	for i, s := range to {
		if i != special {
			g := l.n.b.invert(s.ohm)
			sum, pull = b.add(sum, g), b.add(pull, b.mul(g, s.volt))
		}
	}
	w := &weighted{of: near}
	l.known[k] = w
	if len(near)+len(to) == 0 {
		w.constant = zero
		return
	}
	share := b.invert(sum) // by which products of two conductances count
	if special >= 0 {
		r := to[special].ohm
		den := b.add(b.constant(1), b.mul(r, sum))
		share = b.div(r, den)
		w.constant = b.add(b.div(to[special].volt, den), b.mul(pull, share))
		for _, p := range near {
			l.to[p] = append(l.to[p], source{b.div(den, l.n.b.invert(l.adj[k][p])), to[special].volt, false})
		}
	} else {
		w.constant = b.mul(pull, share)
	}
	for i, p := range near {
		part := b.mul(l.n.b.invert(l.adj[k][p]), share)
		w.by = append(w.by, part)
		for _, q := range near[:i] {
			l.join(p, q, b.invert(b.mul(part, l.n.b.invert(l.adj[k][q]))))
		}
		for j, s := range to {
			if j != special {
				l.to[p] = append(l.to[p], source{b.invert(b.mul(part, l.n.b.invert(s.ohm))), s.volt, false})
			}
		}
		if !still {
			l.inject[p] = b.add(l.inject[p], b.mul(part, l.inject[k]))
		}
	}
}

// together is the one source that makes of a node what its sources and the current into it do (Thévenin): special is the number
// of the one that may have no resistance, -1: none has.
func (l *law) together(to []source, special int, inject expr) source {
	b := l.n.b
	g, current, other := b.constant(0), inject, 0
	for i, s := range to {
		if i != special {
			c := l.n.b.invert(s.ohm)
			g, current, other = b.add(g, c), b.add(current, b.mul(c, s.volt)), i
		}
	}
	switch {
	case special < 0 && len(to) == 1:
		return source{to[0].ohm, b.add(to[0].volt, b.mul(to[0].ohm, inject)), false}
	case special < 0:
		return source{b.invert(g), b.div(current, g), false}
	case len(to) == 2: // no quotient but by the sum of the two
		s, t := to[special], to[other]
		volt := b.add(b.mul(s.volt, t.ohm), b.mul(s.ohm, b.add(t.volt, b.mul(t.ohm, inject))))
		sum := b.invert(b.add(s.ohm, t.ohm))
		return source{b.mul(b.mul(s.ohm, t.ohm), sum), b.mul(volt, sum), false}
	}
	s := to[special]
	den := b.add(b.constant(1), b.mul(s.ohm, g))
	return source{b.div(s.ohm, den), b.div(b.add(s.volt, b.mul(s.ohm, current)), den), false}
}

// volt is a node's voltage.
func (l *law) volt(p int) affine {
	n := l.n
	r := l.root[p]
	var v affine
	switch {
	case n.isHeld(r):
		v = n.fixed(n.holds(r, l.low))
	case n.isState(r):
		v = n.of(n.stateOf[r])
	default:
		w := l.known[r]
		v = n.fixed(w.constant)
		for i, q := range w.of {
			v = n.plus(v, n.times(l.volt(q), w.by[i]))
		}
	}
	v[0] = n.b.add(v[0], l.offset[p])
	return v
}

// own is the sum of a state's conductances to held nodes and the current that they bring; special, if any, apart.
func (l *law) own(state int) (g, current expr, special *source) {
	b, p := l.n.b, l.n.charged[state]
	g, current = b.constant(0), l.inject[p]
	for i := range l.to[p] {
		s := &l.to[p][i]
		if s.special {
			special = s
			continue
		}
		c := l.n.b.invert(s.ohm)
		g, current = b.add(g, c), b.add(current, b.mul(c, s.volt))
	}
	return g, current, special
}

// between is the conductance between two states.
func (l *law) between(i, k int) expr {
	if ohm, ok := l.adj[l.n.charged[i]][l.n.charged[k]]; ok {
		return l.n.b.invert(ohm)
	}
	return l.n.b.constant(0)
}

// conditions say of each diode what stays at or above zero while it is as the law has it: the drop less its voltage
// where it blocks, its current where it conducts.
func (l *law) conditions(mask int) []affine {
	n, b := l.n, l.n.b
	var out []affine
	for i, d := range n.diodes {
		across := n.minus(l.volt(d.anode), l.volt(d.cathode))
		switch {
		case mask>>i&1 == 0:
			out = append(out, n.minus(n.fixed(d.drop), across))
		case slices.Contains(l.loops, i):
			out = append(out, n.minus(across, n.fixed(d.drop)))
		case slices.Contains(l.clamps, i):
			state, into := n.stateOf[l.root[d.anode]], n.isState(l.root[d.anode])
			if !into {
				state = n.stateOf[l.root[d.cathode]]
			}
			out = append(out, n.times(l.into(state, into), b.constant(ampere)))
		default:
			out = append(out, n.times(l.through(i), b.constant(ampere)))
		}
	}
	return out
}

// into is the current that the network brings to a state's node, or with false what it takes.
func (l *law) into(state int, brings bool) affine {
	n, b := l.n, l.n.b
	g, current, special := l.own(state)
	if special != nil {
		c := b.invert(b.least(special.ohm))
		g, current = b.add(g, c), b.add(current, b.mul(c, special.volt))
	}
	out := n.fixed(current)
	for k := range n.charged {
		if k == state {
			continue
		}
		c := l.between(state, k)
		out[1+k] = c
		g = b.add(g, c)
	}
	out[1+state] = b.negative(g)
	if !brings {
		out = n.minus(n.fixed(b.constant(0)), out)
	}
	return out
}

// through is the current of a diode that ties without resistance: all that the nodes on its far side from the root bring.
func (l *law) through(i int) affine {
	n, b := l.n, l.n.b
	d := n.diodes[i]
	side, anode := l.side(i, d.anode), true
	if slices.Contains(side, l.root[d.anode]) {
		side, anode = l.side(i, d.cathode), false
	}
	sum := n.fixed(b.constant(0))
	for k, r := range l.lines {
		p, q := slices.Contains(side, r.p), slices.Contains(side, r.q)
		if p == q {
			continue
		}
		ohm := r.ohm
		if r.special {
			ohm = b.least(ohm)
		}
		flow := n.minus(n.minus(l.volt(r.p), l.volt(r.q)), n.fixed(l.extra[k])) // from p to q
		flow = n.times(flow, b.invert(ohm))
		if p {
			sum = n.minus(sum, flow)
		} else {
			sum = n.plus(sum, flow)
		}
	}
	for _, w := range n.draws {
		if slices.Contains(side, w.node) {
			sum[0] = b.sub(sum[0], w.ampere)
		}
	}
	if !anode {
		sum = n.minus(n.fixed(b.constant(0)), sum)
	}
	return sum
}

// side are the nodes that hang together with p by tying diodes other than one.
func (l *law) side(without, p int) []int {
	out := []int{p}
	for i := 0; i < len(out); i++ {
		for _, k := range l.linked {
			d := l.n.diodes[k]
			for _, end := range [][2]int{{d.anode, d.cathode}, {d.cathode, d.anode}} {
				if k != without && end[0] == out[i] && !slices.Contains(out, end[1]) {
					out = append(out, end[1])
				}
			}
		}
	}
	return out
}

// differences are what passes zero as the state of the device ends: all of them must.
func (l *law) differences() []affine {
	n := l.n
	scaled := func(node int, by expr) affine {
		if node < 0 {
			return n.fixed(by)
		}
		return n.times(l.volt(node), by)
	}
	var out []affine
	for _, c := range n.compare[side(l.low)] {
		out = append(out, n.minus(scaled(c.first, c.firstBy), scaled(c.second, c.secondBy)))
	}
	return out
}
