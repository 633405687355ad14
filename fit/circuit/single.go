package circuit

import "slices"

// What the tape of one charged node computes, in this order: of the high state and of the low one its time constant, its
// goal, the voltage at which it ends, and the sign of the difference there; then the output's jump, and the diodes'
// conditions of either state.
const (
	ofTau = iota
	ofGoal
	ofEnd
	ofSense
	ofState
	ofJump = 2 * ofState
	ofHold = ofJump + 1
)

// single compiles the law of one charged node with the diodes as they are in the nominal cycle; nil where it has no such
// short form.
func (n *network) single(nominal [2]int) *tape {
	b := n.b
	if len(n.charged) != 1 || len(n.compare[0]) != 1 || len(n.compare[1]) > 1 {
		return nil
	}
	matrix, swing, _ := n.capacitances()
	farad := matrix[0]
	var out, hold []expr
	for s, low := range []bool{false, true} {
		l := n.solve(low, nominal[s])
		if !l.valid || len(l.frozen) > 0 {
			return nil
		}
		to := l.to[n.charged[0]]
		tied := slices.IndexFunc(to, func(s source) bool { return s.special })
		fed := source{b.invert(b.constant(0)), b.constant(0), false} // nothing but a current
		if len(to) > 0 {
			fed = l.together(to, tied, l.inject[n.charged[0]])
		}
		if tied >= 0 {
			fed.ohm = b.least(fed.ohm)
		}
		tau, goal := b.mul(farad, fed.ohm), fed.volt
		end, sense := b.constant(0), b.constant(0)
		if len(n.compare[s]) == 0 { // what a pulse starts from is where this state comes to rest
			tau = end
		}
		if d := l.differences(); len(d) == 1 {
			sense = d[0][1]
			end = b.div(b.negative(d[0][0]), sense)
		}
		out = append(out, tau, goal, end, sense)
		for _, h := range l.conditions(nominal[s]) {
			hold = append(hold, h...)
		}
	}
	jump := b.div(b.mul(swing[0], b.sub(n.high, n.low)), farad)
	if b.is(swing[0], 0) {
		jump = b.constant(0)
	}
	t := b.compile(append(append(out, jump), hold...)...)
	if t.size > tinyTape {
		return nil
	}
	return t
}

// halves are the two halves of a cycle of one charged node.
type halves struct {
	charge, discharge         segment
	up, down                  float64 // V where the high and the low state end
	upSense, downSense        float64
	peak, valley              float64 // V where the runs turn
	startHigh, startLow, jump float64 // V where they begin: the turns, but for what the output's switching gives the node
}

// halves computes the runs; sure is false where the diodes are not as in the nominal cycle. turns asks for where a single
// pulse turns, which its time does not need.
func (e *engine) halves(v *Values, h *halves, turns bool) (sure bool) {
	var r [tinyTape]float64
	t := e.quick
	if e.sound != nil {
		t = e.sound
		for _, s := range e.absent {
			if v[s] != 0 {
				t = e.quick
			}
		}
	}
	compute(t, v, &r)
	const mask = tinyTape - 1
	o := t.out
	h.charge = segment{r[o[ofGoal]&mask], r[o[ofTau]&mask]}
	h.up, h.upSense = r[o[ofEnd]&mask], r[o[ofSense]&mask]
	h.discharge = segment{r[o[ofState+ofGoal]&mask], r[o[ofState+ofTau]&mask]}
	h.down, h.downSense = r[o[ofState+ofEnd]&mask], r[o[ofState+ofSense]&mask]
	h.jump = r[o[ofJump]&mask]
	h.valley = h.discharge.target
	if !e.onePulse {
		h.valley = h.discharge.after(h.down, v[DelayRise])
	}
	if !e.onePulse || turns || e.diodes > 0 {
		h.peak = h.charge.after(h.up, v[DelayFall])
	}
	h.startHigh, h.startLow = h.valley+h.jump, h.peak-h.jump
	at := ofHold
	for _, ends := range [2][2]float64{{h.startHigh, h.peak}, {h.startLow, h.valley}} {
		for range e.diodes {
			c, k := r[o[at]&mask], r[o[at+1]&mask]
			at += 2
			// A quantity that is affine in the voltage holds in between where it holds at both ends.
			if !(c+k*ends[0] >= 0 && c+k*ends[1] >= 0) {
				return false
			}
		}
	}
	return true
}

// single is the law of one charged node in closed form; sure is false where it has to be followed.
func (e *engine) single(v *Values) (high, low float64, ok, sure bool) {
	var h halves
	if !e.halves(v, &h, false) || h.charge.drifts() || h.discharge.drifts() {
		return 0, 0, false, false
	}
	high = v.stretch(h.charge.until(h.startHigh, h.up) + v[DelayFall])
	ok = runs(high) && h.ends(h.startHigh, h.up, h.charge.target, h.upSense)
	if e.onePulse {
		return high, 1, ok, true
	}
	low = v.stretch(h.discharge.until(h.startLow, h.down) + v[DelayRise])
	return high, low, ok && runs(low) && h.ends(h.startLow, h.down, h.discharge.target, h.downSense), true
}

// ends says whether a run from start to goal passes the end with the difference rising.
func (h *halves) ends(start, end, goal, sense float64) bool {
	return (end-start)*sense > 0 && (goal-end)*sense > 0
}

// curve is the timing node's voltage.
func (e *engine) curve(v *Values) Curve {
	var h halves
	e.halves(v, &h, true)
	if v[Contact] != 0 && e.touching.quick != nil {
		// A resistance in series with the capacitor keeps its node nearer to the goal than it is itself.
		var t halves
		e.touching.halves(v, &t, true)
		h.peak = t.charge.target - (t.charge.target-t.peak)*h.charge.tau/t.charge.tau
		h.valley = t.discharge.target - (t.discharge.target-t.valley)*h.discharge.tau/t.discharge.tau
		h.charge, h.discharge = t.charge, t.discharge
	}
	k := Curve{Upper: h.up, Lower: h.down, Peak: h.peak, Valley: h.valley, Charge: v.seen(h.charge), Discharge: v.seen(h.discharge)}
	if e.onePulse {
		k.Lower, k.Valley, k.Discharge = h.valley, h.valley, Run{}
	}
	return k
}

// nominalCycle follows the board of the nominal values and notes which diodes conduct as each state ends, how long it
// lasts, and which conduct midway through the high one.
func (e *engine) nominalCycle(v *Values) (midway int, ok bool) {
	var f follower
	f.begin(e, v)
	high, low, ok := f.cycle()
	if !ok {
		return 0, false
	}
	e.dwell = [2]float64{high, low}
	if e.onePulse { // it begins where the low state rests
		f.begin(e, v)
		f.rest()
	}
	// Once more, to look at the diodes: midway through the high state, and as each state ends.
	half := func(low bool, took float64) (middle, end int) {
		s := side(low)
		start := f.x
		o, found := f.diodes(low, e.nominal[s])
		if o, found = f.pass(o, found, took/2); !found {
			return 0, 0
		}
		middle = o.mask
		if o, found = f.pass(o, found, took/2); !found {
			return middle, middle
		}
		e.pace[s], f.x = o.slowest(), start
		return middle, o.mask
	}
	midway, e.nominal[0] = half(false, high)
	if e.onePulse {
		f.jump(false)
		if o, found := f.diodes(true, e.nominal[1]); found {
			e.nominal[1] = o.mask
		}
		return midway, true
	}
	if _, ok = f.half(false, false); !ok {
		return midway, false
	}
	_, e.nominal[1] = half(true, low)
	return midway, true
}

// pass moves the board on by t, through the diodes' states; found is false where none fits.
func (f *follower) pass(o *motion, found bool, t float64) (*motion, bool) {
	for t > 0 && found {
		at, which := f.breaks(o, t)
		o.after(&f.x, at)
		if which < 0 {
			break
		}
		t -= at
		o, found = f.diodes(o.low, o.mask^1<<which)
	}
	return o, found
}
