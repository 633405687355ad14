package circuit

import "math"

// Bounds of following a cycle.
const (
	mostCycles = 1000
	mostEvents = 200 // diodes' changes in one state
	motions    = 6   // kept at a time
)

// same is the change of a voltage from one cycle to the next, relative to the supply, below which the cycle repeats;
// slack the voltage, relative likewise, that counts as none.
const (
	same  = 1e-14
	slack = 1e-13
)

// follower follows one board from power-up, state by state of the device and of the diodes.
type follower struct {
	e     *engine
	v     *Values
	c     charges
	x     [mostStates]float64
	tol   float64 // V
	kept  [motions]motion
	have  int
	stuck stuck
}

// stuck says why a board does not run.
type stuck struct {
	low   bool
	past  bool // the difference was past zero as the state began
	x     [mostStates]float64
	short float64 // V by which the difference stays below zero
	lost  bool    // no state of the diodes fits, or it takes too long
}

func (f *follower) begin(e *engine, v *Values) {
	f.e, f.v = e, v
	e.load(v, &f.c)
	f.x = f.c.start
	f.tol = slack * math.Abs(v[Supply])
}

// motion is that of a state, computed once where it can be kept.
func (f *follower) motion(low bool, mask int) *motion {
	for i := range f.have {
		if o := &f.kept[i]; o.low == low && o.mask == mask {
			return o
		}
	}
	i := f.have
	if i == motions {
		i = mask % motions
	} else {
		f.have++
	}
	f.e.move(f.v, low, mask, &f.x, &f.c, &f.kept[i])
	return &f.kept[i]
}

// value is an affine at the present voltages.
func (f *follower) value(h *[1 + mostStates]float64) float64 {
	y := h[0]
	for i := range f.e.n {
		y += h[1+i] * f.x[i]
	}
	return y
}

// fits says whether the diodes can be as the motion has them: no condition is broken, or about to be.
func (f *follower) fits(o *motion) bool {
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

// diodes finds which conduct, first of all those of guess.
func (f *follower) diodes(low bool, guess int) (*motion, bool) {
	s := 0
	if low {
		s = 1
	}
	try := func(mask int) *motion {
		if f.e.pieces[s][mask].tape == nil {
			return nil
		}
		if o := f.motion(low, mask); f.fits(o) {
			return o
		}
		return nil
	}
	if o := try(guess); o != nil {
		return o, true
	}
	for mask := range f.e.pieces[s] {
		if mask == guess {
			continue
		}
		if o := try(mask); o != nil {
			return o, true
		}
	}
	return nil, false
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

// crossing is when all differences are at or above zero, within until.
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
			return 0, false
		}
		at = max(at, t)
	}
	for i := range o.nd {
		c := o.course(&o.differ[i], &f.x, &d)
		if at > 0 && c.at(at) < -1e-9*math.Abs(f.v[Supply]) {
			return 0, false
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
	delay, s := f.v[DelayFall], 0
	if low {
		delay, s = f.v[DelayRise], 1
	}
	o, ok := f.diodes(low, f.e.nominal[s])
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
			if until, ends = f.crossing(o, 60/o.slowest()); !ends {
				until = 60 / o.slowest()
			}
		}
		at, which := f.breaks(o, until)
		if which < 0 && ends {
			f.on(o, until)
			took += until
			crossed = true
			continue
		}
		if which < 0 {
			if !crossed {
				f.on(o, until)
				f.halt(o)
				return 0, false
			}
			f.on(o, left)
			took += left
			if low {
				for i := range f.e.n {
					f.x[i] += f.c.jump[i]
				}
			} else {
				for i := range f.e.n {
					f.x[i] -= f.c.jump[i]
				}
			}
			return took, true
		}
		f.on(o, at)
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

// on moves the board on.
func (f *follower) on(o *motion, t float64) { o.after(&f.x, t) }

// halt notes where a state came to rest.
func (f *follower) halt(o *motion) {
	f.stuck = stuck{low: o.low, x: f.x}
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
	tiny := same * math.Abs(f.v[Supply])
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
		if !first && (f.e.n == 1 || change <= tiny) {
			return high, low, runs(high) && runs(low)
		}
		first = false
	}
	f.stuck = stuck{lost: true}
	return 0, 0, false
}

// rest brings the board to rest in the low state, then switches the output high.
func (f *follower) rest() bool {
	for i := range f.e.n {
		f.x[i] -= f.c.jump[i]
	}
	o, ok := f.diodes(true, f.e.nominal[1])
	for range mostEvents {
		if !ok {
			f.stuck = stuck{low: true, lost: true}
			return false
		}
		at, which := f.breaks(o, 60/o.slowest())
		if which < 0 {
			o.settled(&f.x)
			for i := range f.e.n {
				f.x[i] += f.c.jump[i]
			}
			return true
		}
		f.on(o, at)
		o, ok = f.diodes(true, o.mask^1<<which)
	}
	f.stuck = stuck{low: true, lost: true}
	return false
}
