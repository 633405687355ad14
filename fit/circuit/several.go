package circuit

import (
	"math"
	"slices"
)

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

// steps of Newton's method before the cycle is followed instead.
const mostSteps = 20

// dwells is the law of several charged nodes whose diodes are throughout each state as they are in the nominal cycle;
// false where the cycle has to be followed from power-up.
func (e *engine) dwells(v *Values) (high, low float64, ok bool) {
	if e.ends[0] != 1 || !(e.dwell[0] > 0) || e.pieces[0][e.nominal[0]].frozen|e.pieces[1][e.nominal[1]].frozen != 0 {
		return 0, 0, false
	}
	d := dwells{e: e, v: v}
	e.load(v, &d.c)
	e.move(v, false, e.nominal[0], &d.c, &d.high)
	e.move(v, true, e.nominal[1], &d.c, &d.low)
	// From the design's own nominal cycle, slower or faster as the board is.
	t := [2]float64{e.dwell[0] * e.pace[0] / d.high.slowest(), e.dwell[1] * e.pace[1] / d.low.slowest()}
	least := [2]float64{v[DelayFall], v[DelayRise]}
	for _, o := range []*motion{&d.high, &d.low} {
		if slices.Contains(o.rate[:o.m], 0) {
			return 0, 0, false // it drifts
		}
	}
	for range mostSteps {
		if !d.at(t) {
			return 0, 0, false
		}
		step := d.step()
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
		if size < settledStep {
			return v.stretch(t[0]), v.stretch(t[1]), d.sound(t)
		}
	}
	return 0, 0, false
}

// step is Newton's, from the differences at the ends and their slopes.
func (d *dwells) step() [2]float64 {
	e, s := &d.ends, &d.slopes
	det := s[0][0]*s[1][1] - s[0][1]*s[1][0]
	return [2]float64{(e[1]*s[0][1] - e[0]*s[1][1]) / det, (e[0]*s[1][0] - e[1]*s[0][0]) / det}
}

// settledStep is the relative step after which the next one is below what a float64 tells: each step squares the error.
const settledStep = 1e-8

// at computes the periodic voltages of given dwells, the differences at their ends, and how these change.
func (d *dwells) at(t [2]float64) bool {
	n := d.e.n
	// After a state of motion o from x: e (x - goal) + goal, with e = shape exp(-rate t) into.
	var fh, fl, bh, bl vector // what is left of each mode at the turns, and at the ends a delay earlier
	d.high.left(t[0], d.v[DelayFall], &fh, &bh)
	d.low.left(t[1], d.v[DelayRise], &fl, &bl)
	var eh, el square
	gh, gl := d.high.flow(&fh, &eh), d.low.flow(&fl, &el)
	// x = el y + gl + jump, y = eh x + gh - jump.
	var c charges
	m := &c.matrix
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
	d.x = c.shared(n, q)
	for i := range n {
		d.y[i] = gh[i] - d.c.jump[i]
		for k := range n {
			d.y[i] += eh[i][k] * d.x[k]
		}
	}
	// How each mode runs from the beginnings, the differences at the ends, and the velocities at the turns.
	sh, sl := d.high.start(&d.x), d.low.start(&d.y)
	vh, vl := d.high.velocity(&sh, &fh), d.low.velocity(&sl, &fl)
	wh, wl := d.high.weights(), d.low.weights()
	var risingHigh, risingLow float64
	d.ends[0], risingHigh = d.high.ending(&wh, &sh, &bh)
	d.ends[1], risingLow = d.low.ending(&wl, &sl, &bl)
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
	d.slopes[0][0] = risingHigh + d.high.through(&wh, &bh, &xh)
	d.slopes[0][1] = d.high.through(&wh, &bh, &xl)
	d.slopes[1][0] = d.low.through(&wl, &bl, &yh)
	d.slopes[1][1] = risingLow + d.low.through(&wl, &bl, &yl)
	return !math.IsNaN(d.ends[0] + d.ends[1])
}

// left is the share of each mode's way that is left after t, and a delay before.
func (o *motion) left(t, delay float64, after, before *vector) {
	for k := range o.m {
		after[k], before[k] = math.Exp(-o.rate[k]*t), math.Exp(-o.rate[k]*(t-delay))
	}
}

// sound says whether no difference passes zero ahead of its end, and both rise there.
func (d *dwells) sound(t [2]float64) bool {
	tol := 1e-12 * math.Abs(d.v[Supply])
	for i, o := range []*motion{&d.high, &d.low} {
		x, until := d.x, t[0]-d.v[DelayFall]
		if i == 1 {
			x, until = d.y, t[1]-d.v[DelayRise]
		}
		if !(until > 0) {
			return false
		}
		s := o.start(&x)
		c := o.course(&o.differ[0], &x, &s)
		if y := c.at(0); y > tol || y > -tol && c.slope(0) >= 0 || !(c.slope(until) > 0) {
			return false
		}
		if _, crosses := c.rises(until * (1 - 10*settledStep)); crosses { // the voltages are those before Newton's last step
			return false
		}
		if !d.holds(o, &x, &s, t[i]) {
			return false
		}
	}
	return true
}

// holds says whether the diodes stay as they are until the state ends.
func (d *dwells) holds(o *motion, x, s *vector, until float64) bool {
	tol := slack * math.Abs(d.v[Supply])
	for i := range o.nh {
		c := o.course(&o.hold[i], x, s)
		c.end = -c.end - tol
		for k := range c.m {
			c.part[k] = -c.part[k]
		}
		if _, crosses := c.rises(until); crosses || c.at(0) > 0 {
			return false
		}
	}
	return true
}

// flow is what a motion makes of any voltages when f is left of each mode: e times them plus the constant that it returns.
func (o *motion) flow(f *vector, e *square) (constant vector) {
	for k := range o.m {
		pull := o.goal[k] * (1 - f[k])
		for i := range o.m {
			constant[i] += o.shape[i][k] * pull
			s := o.shape[i][k] * f[k]
			for j := range o.m {
				e[i][j] += s * o.into[k][j]
			}
		}
	}
	return constant
}

// velocity is dx/dt where f is left of the modes' distances d from their goals.
func (o *motion) velocity(d, f *vector) (v vector) {
	for k := range o.m {
		x := o.rate[k] * d[k] * f[k]
		for i := range o.m {
			v[i] -= o.shape[i][k] * x
		}
	}
	return v
}

// weights are by how much each mode moves the difference.
func (o *motion) weights() (w vector) {
	for k := range o.m {
		for i := range o.m {
			w[k] += o.differ[0][1+i] * o.shape[i][k]
		}
	}
	return w
}

// ending is the difference and its slope in time where f is left of the modes' distances d from their goals.
func (o *motion) ending(w, d, f *vector) (y, slope float64) {
	y = o.differ[0][0]
	for k := range o.m {
		x := d[k] * f[k]
		y += w[k] * (o.goal[k] + x)
		slope -= w[k] * o.rate[k] * x
	}
	return y, slope
}

// through is the difference's change for a change x of the voltages at the beginning.
func (o *motion) through(w, f, x *vector) (y float64) {
	for k := range o.m {
		into := 0.0
		for i := range o.m {
			into += o.into[k][i] * x[i]
		}
		y += w[k] * f[k] * into
	}
	return y
}
