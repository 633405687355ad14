package circuit

import (
	"math"
	"sync"
)

// Bounds of following a cycle.
const (
	mostCycles = 1000
	mostEvents = 200 // diodes' changes in one state
)

// slack is the voltage, relative to the supply, that counts as none; a cycle that changes no more repeats.
const slack = 1e-13

// follower follows one board from power-up, state by state of the device and of the diodes.
type follower struct {
	e     *engine
	v     *Values
	c     charges
	x     [mostStates]float64
	tol   float64            // V
	kept  [2]map[int]*motion // by the state of the device and which diodes conduct
	room  []*motion          // for those, of the board before
	stuck stuck
}

// followers have the room of boards that were followed before.
var followers = sync.Pool{New: func() any { return new(follower) }}

// stuck says why a board does not run.
type stuck struct {
	low   bool
	past  bool // the difference was past zero as the state began
	x     [mostStates]float64
	short float64 // V by which the difference stays below zero
	drift bool    // nothing holds a node, and what a pin draws moves it
	lost  bool    // no state of the diodes fits, or it takes too long
}

func (f *follower) begin(e *engine, v *Values) {
	for s, kept := range f.kept {
		if kept == nil {
			f.kept[s] = map[int]*motion{}
		}
		for _, o := range kept {
			f.room = append(f.room, o)
		}
		clear(kept)
	}
	f.e, f.v, f.stuck = e, v, stuck{}
	e.load(v, &f.c)
	f.x = f.c.start
	f.tol = slack * math.Abs(v[Supply])
}

// motion is that of a state, computed once.
func (f *follower) motion(low bool, mask int) *motion {
	kept := f.kept[side(low)]
	if kept[mask] == nil {
		if n := len(f.room); n > 0 {
			kept[mask], f.room = f.room[n-1], f.room[:n-1] // move writes all that is read
		} else {
			kept[mask] = &motion{}
		}
		f.e.move(f.v, low, mask, &f.c, kept[mask])
	}
	return kept[mask]
}

// value is an affine at the present voltages.
func (f *follower) value(h *[1 + mostStates]float64) float64 {
	y := h[0]
	for i := range f.e.n {
		y += h[1+i] * f.x[i]
	}
	return y
}

// fits says whether the diodes can be as the motion has them: nodes are where it holds them, no condition is broken, or
// about to be.
func (f *follower) fits(o *motion) bool {
	if f.jumps(o) {
		return false
	}
	d := o.start(&f.x)
	for i := range o.nh {
		y := f.value(&o.hold[i])
		if !(y >= -10*f.tol) {
			return false
		}
		if y <= 10*f.tol {
			c := o.course(&o.hold[i], &f.x, &d)
			if s := c.slope(0); s < -f.tol*o.slowest() {
				return false
			}
		}
	}
	return true
}

// jumps says whether a node is not where the motion holds it.
func (f *follower) jumps(o *motion) bool {
	for i := range o.n {
		if !o.moves(i) && !(math.Abs(f.x[i]-o.clamp[i]) <= nearly*math.Abs(f.v[Supply])) {
			return true
		}
	}
	return false
}

// nearly is by how much of the supply a node may be off where a diode is to hold it.
const nearly = 1e-8

// diodes finds which conduct, first of all those of guess.
func (f *follower) diodes(low bool, guess int) (*motion, bool) {
	if o := f.search(low, guess); o != nil {
		return o, true
	}
	// A diode that holds a capacitor's node from here on brings it there at once: after power-up, or as the output jumps.
	x := f.x
	for mask, p := range f.e.pieces[side(low)] {
		if p.tape == nil || p.frozen == 0 {
			continue
		}
		if o := f.motion(low, mask); f.pull(o, &p) {
			if o := f.search(low, mask); o != nil {
				return o, true
			}
		}
		f.x = x
	}
	return nil, false
}

// search tries all states of the diodes, first of all guess; nil where none fits.
func (f *follower) search(low bool, guess int) *motion {
	for k := range f.e.pieces[side(low)] {
		if k == 0 {
			k = guess
		} else if k == guess {
			k = 0
		}
		if f.e.pieces[side(low)][k].tape == nil {
			continue
		}
		if o := f.motion(low, k); f.fits(o) {
			for i := range o.n {
				if !o.moves(i) {
					f.x[i] = o.clamp[i]
				}
			}
			return o
		}
	}
	return nil
}

// pull moves the nodes that diodes hold to where they hold them; the other nodes keep their charge. It says whether the
// charge that this takes runs through the diodes forward.
func (f *follower) pull(o *motion, p *piece) bool {
	var c charges
	var q, by vector
	for i := range o.n {
		if !o.moves(i) {
			by[i] = o.clamp[i] - f.x[i]
			c.matrix[i][i], q[i] = 1, by[i]
			continue
		}
		for k := range o.n {
			if o.moves(k) {
				c.matrix[i][k] = f.c.matrix[i][k]
			} else {
				q[i] -= f.c.matrix[i][k] * (o.clamp[k] - f.x[k])
			}
		}
	}
	by = c.shared(o.n, q)
	for i := range o.n {
		f.x[i] += by[i]
		if o.moves(i) {
			continue
		}
		brought, size := 0.0, 0.0
		for k := range o.n {
			brought += f.c.matrix[i][k] * by[k]
			size += f.c.matrix[i][k] * f.c.matrix[i][k]
		}
		if p.drains>>i&1 == 1 {
			brought = -brought
		}
		if brought < -f.tol*math.Sqrt(size) {
			return false
		}
	}
	return true
}

// ending is the course of a difference. One that stands at zero and falls, as just after the state before, counts as below.
func (f *follower) ending(o *motion, i int, d *vector) (c course, past bool) {
	c = o.course(&o.differ[i], &f.x, d)
	switch y := c.at(0); {
	case y > 10*f.tol:
		return c, true
	case y >= -10*f.tol && c.slope(0) < 0:
		c.end -= 20 * f.tol
		return c, false
	default:
		return c, y >= 0
	}
}

// crossing is when all differences are at or above zero; until, and false, where they are not within that.
func (f *follower) crossing(o *motion, until float64) (float64, bool) {
	d := o.start(&f.x)
	at := 0.0
	for i := range o.nd {
		c, past := f.ending(o, i, &d)
		if past {
			continue
		}
		t, ok := c.rises(until)
		if !ok {
			return until, false
		}
		at = max(at, t)
	}
	for i := range o.nd {
		c := o.course(&o.differ[i], &f.x, &d)
		if at > 0 && c.at(at) < -1e-9*math.Abs(f.v[Supply]) {
			return until, false
		}
	}
	return at, true
}

// breaks is when a diode first changes, within until, and which.
func (f *follower) breaks(o *motion, until float64) (at float64, which int) {
	at, which = until, -1
	if o.nh == 0 {
		return at, which
	}
	d := o.start(&f.x)
	for i := range o.nh {
		c := o.course(&o.hold[i], &f.x, &d)
		c.end = -c.end - f.tol
		for k := range c.m {
			c.part[k] = -c.part[k]
		}
		if t, ok := c.rises(at); ok && t < at {
			at, which = t, i
		}
	}
	return at, which
}

// half follows one state of the device to its end, the delay in; first says that it is the one of power-up, which may
// end at once.
func (f *follower) half(low, first bool) (took float64, ok bool) {
	delay := f.v[[2]Slot{DelayFall, DelayRise}[side(low)]]
	o, ok := f.diodes(low, f.e.nominal[side(low)])
	if !ok {
		f.stuck = stuck{low: low, lost: true}
		return 0, false
	}
	past, d := true, o.start(&f.x)
	for i := range o.nd {
		_, one := f.ending(o, i, &d)
		past = past && one
	}
	if past && !first {
		f.halt(o)
		f.stuck.past = true
		return 0, false
	}
	crossed, left := false, delay
	for range mostEvents {
		until, ends := left, false
		if !crossed {
			until, ends = f.crossing(o, rest/o.slowest())
		}
		at, which := f.breaks(o, until)
		if which < 0 && ends {
			o.after(&f.x, until)
			took += until
			crossed = true
			continue
		}
		if which < 0 {
			if !crossed {
				o.after(&f.x, until)
				f.halt(o)
				return 0, false
			}
			o.after(&f.x, left)
			took += left
			f.jump(low)
			return took, true
		}
		o.after(&f.x, at)
		took += at
		if crossed {
			left -= at
		}
		if o, ok = f.diodes(low, o.mask^1<<which); !ok {
			f.stuck = stuck{low: low, lost: true}
			return 0, false
		}
	}
	f.stuck = stuck{low: low, lost: true}
	return 0, false
}

// halt notes where a state came to rest.
func (f *follower) halt(o *motion) {
	f.stuck = stuck{low: o.low, x: f.x, drift: o.drifts()}
	for i := range o.nd {
		if d := -f.value(&o.differ[i]); i == 0 || d > f.stuck.short {
			f.stuck.short = d
		}
	}
}

// cycle is the steady cycle that power-up leads to, in s; of one pulse the high time from the rest of the low state.
func (f *follower) cycle() (high, low float64, ok bool) {
	if f.e.onePulse {
		if !f.rest() {
			return 0, 0, false
		}
		high, ok = f.half(false, false)
		return high, 1, ok && runs(high)
	}
	first := true
	for range mostCycles {
		before := f.x
		if high, ok = f.half(false, first); !ok {
			return 0, 0, false
		}
		if low, ok = f.half(true, false); !ok {
			return 0, 0, false
		}
		change := 0.0
		for i := range f.e.n {
			change = max(change, math.Abs(f.x[i]-before[i]))
		}
		// Of one charged node the second cycle is the steady one.
		if !first && (f.e.n == 1 || change <= f.tol) {
			return high, low, runs(high) && runs(low)
		}
		first = false
	}
	f.stuck = stuck{lost: true}
	return 0, 0, false
}

// jump gives the nodes what the output's swing brings them, up or down.
func (f *follower) jump(up bool) {
	for i := range f.e.n {
		if up {
			f.x[i] += f.c.jump[i]
		} else {
			f.x[i] -= f.c.jump[i]
		}
	}
}

// rest brings the board to rest in the low state, then switches the output high.
func (f *follower) rest() bool {
	f.jump(false)
	o, ok := f.diodes(true, f.e.nominal[1])
	for range mostEvents {
		if !ok {
			break
		}
		at, which := f.breaks(o, rest/o.slowest())
		o.after(&f.x, at)
		if which < 0 && o.drifts() {
			f.halt(o)
			return false
		}
		if which < 0 {
			f.jump(true)
			return true
		}
		o, ok = f.diodes(true, o.mask^1<<which)
	}
	f.stuck = stuck{low: true, lost: true}
	return false
}
