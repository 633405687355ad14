package circuit

import "math"

// cycle of several charged nodes with two dwell times as unknowns: for given dwells the periodic voltages are one linear
// solve, and the differences at the two ends are the equations (Newton's method).
type dwells struct {
	e      *engine
	v      *Values
	c      charges
	high   motion
	low    motion
	x      [mostStates]float64 // as the high state begins
	y      [mostStates]float64 // as the low state begins
	ends   [2]float64          // the differences at the two ends
	slopes [2][2]float64       // of the ends by the dwells
}

type vector = [mostStates]float64
type square = [mostStates][mostStates]float64

// steps of Newton's method before the cycle is followed instead.
const mostSteps = 40

// dwells is the law of several charged nodes without diodes; false where the cycle has to be followed from power-up.
func (e *engine) dwells(v *Values) (high, low float64, ok bool) {
	if e.ends[0] != 1 || !(e.dwell[0] > 0) {
		return 0, 0, false
	}
	d := dwells{e: e, v: v}
	e.load(v, &d.c)
	e.move(v, false, 0, &d.x, &d.c, &d.high)
	e.move(v, true, 0, &d.x, &d.c, &d.low)
	// From the design's own nominal cycle, slower or faster as the board is.
	t := [2]float64{e.dwell[0] * e.pace[0] / d.high.slowest(), e.dwell[1] * e.pace[1] / d.low.slowest()}
	least := [2]float64{v[DelayFall], v[DelayRise]}
	worst := math.Inf(1)
	for range mostSteps {
		if !d.at(t) {
			return 0, 0, false
		}
		det := d.slopes[0][0]*d.slopes[1][1] - d.slopes[0][1]*d.slopes[1][0]
		step := [2]float64{
			-(d.ends[0]*d.slopes[1][1] - d.ends[1]*d.slopes[0][1]) / det,
			-(d.ends[1]*d.slopes[0][0] - d.ends[0]*d.slopes[1][0]) / det,
		}
		size := 0.0
		for i := range t {
			// A dwell at most halves the way to the shortest there is, and grows by half at most.
			s := max(min(step[i], t[i]/2), (least[i]-t[i])/2)
			if !(math.Abs(s) < math.Inf(1)) {
				return 0, 0, false
			}
			size = max(size, math.Abs(s)/t[i])
			t[i] += s
		}
		if size < 1e-15 || size < 1e-12 && size >= worst {
			return v.stretch(t[0]), v.stretch(t[1]), d.at(t) && d.sound(t)
		}
		worst = size
	}
	return 0, 0, false
}

// at computes the periodic voltages of given dwells, the differences at their ends, and how these change.
func (d *dwells) at(t [2]float64) bool {
	n := d.e.n
	// After a state of motion o from x: e (x - goal) + goal, with e = shape exp(-rate t) into.
	var eh, el square
	gh, gl := d.high.flow(t[0], &eh), d.low.flow(t[1], &el)
	// x = el y + gl + jump, y = eh x + gh - jump.
	var m square
	var q vector
	for i := range n {
		q[i] = gl[i] + d.c.jump[i]
		for k := range n {
			q[i] += el[i][k] * (gh[k] - d.c.jump[k])
			for j := range n {
				m[i][k] -= el[i][j] * eh[j][k]
			}
		}
		m[i][i]++
	}
	c := charges{matrix: m}
	d.x = c.shared(n, q)
	for i := range n {
		d.y[i] = gh[i] - d.c.jump[i]
		for k := range n {
			d.y[i] += eh[i][k] * d.x[k]
		}
	}
	// The ends, and the velocities there.
	v := d.v
	end := [2]vector{d.x, d.y}
	d.high.after(&end[0], t[0]-v[DelayFall])
	d.low.after(&end[1], t[1]-v[DelayRise])
	turn := [2]vector{d.x, d.y}
	d.high.after(&turn[0], t[0])
	d.low.after(&turn[1], t[1])
	vh, vl := d.high.velocity(&turn[0]), d.low.velocity(&turn[1])
	d.ends = [2]float64{d.high.difference(&end[0]), d.low.difference(&end[1])}
	// How the voltages at the beginnings change with the dwells.
	var byHigh vector
	for i := range n {
		for k := range n {
			byHigh[i] += el[i][k] * vh[k]
		}
	}
	xh, xl := c.shared(n, byHigh), c.shared(n, vl)
	yh, yl := vh, vector{}
	for i := range n {
		for k := range n {
			yh[i] += eh[i][k] * xh[k]
			yl[i] += eh[i][k] * xl[k]
		}
	}
	var ph, pl square
	d.high.flow(t[0]-v[DelayFall], &ph)
	d.low.flow(t[1]-v[DelayRise], &pl)
	d.slopes[0][0] = d.high.along(d.high.velocity(&end[0])) + d.high.through(&ph, &xh)
	d.slopes[0][1] = d.high.through(&ph, &xl)
	d.slopes[1][0] = d.low.through(&pl, &yh)
	d.slopes[1][1] = d.low.along(d.low.velocity(&end[1])) + d.low.through(&pl, &yl)
	return !math.IsNaN(d.ends[0] + d.ends[1])
}

// sound says whether no difference passes zero ahead of its end, and both rise there.
func (d *dwells) sound(t [2]float64) bool {
	tol := 1e-9 * math.Abs(d.v[Supply])
	for i, o := range []*motion{&d.high, &d.low} {
		x, until := d.x, t[0]-d.v[DelayFall]
		if i == 1 {
			x, until = d.y, t[1]-d.v[DelayRise]
		}
		if !(until > 0) || math.Abs(d.ends[i]) > tol {
			return false
		}
		s := o.start(&x)
		c := o.course(&o.differ[0], &x, &s)
		if y := c.at(0); y > tol || y > -tol && c.slope(0) >= 0 || !(c.slope(until) > 0) {
			return false
		} else if y > -tol {
			c.end -= 2 * tol
		}
		if at, ok := c.rises(until * (1 + 1e-9)); ok && at < until*(1-1e-9) {
			return false
		}
	}
	return true
}

// flow is what a motion makes of any voltages in t: e times them plus the constant that it returns.
func (o *motion) flow(t float64, e *square) (constant vector) {
	for k := range o.m {
		f := math.Exp(-o.rate[k] * t)
		for i := range o.m {
			s := o.shape[i][k] * f
			constant[i] += o.shape[i][k] * o.goal[k] * -math.Expm1(-o.rate[k]*t)
			for j := range o.m {
				e[i][j] += s * o.into[k][j]
			}
		}
	}
	return constant
}

// velocity is dx/dt at the voltages x.
func (o *motion) velocity(x *vector) (v vector) {
	d := o.start(x)
	for k := range o.m {
		for i := range o.m {
			v[i] -= o.shape[i][k] * o.rate[k] * d[k]
		}
	}
	return v
}

// difference is what passes zero at the end of the state.
func (o *motion) difference(x *vector) float64 { return o.differ[0][0] + o.along(*x) }

// along is the difference's change for a change of the voltages.
func (o *motion) along(x vector) float64 {
	y := 0.0
	for i := range o.n {
		y += o.differ[0][1+i] * x[i]
	}
	return y
}

// through is the difference's change for a change x of the voltages that e carries on.
func (o *motion) through(e *square, x *vector) float64 {
	var z vector
	for i := range o.n {
		for k := range o.n {
			z[i] += e[i][k] * x[k]
		}
	}
	return o.along(z)
}
