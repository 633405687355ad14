package stream

import "math"

// counterSpan is the span of the counter whose wrap is known: 32 bits, counted in the last printed digit.
const counterSpan = 1 << 32

const (
	// wrapReach: a step across the end of the counter is a wrap if it is at most this many times the longest
	// step of late; a board that restarts just there would have to do so within that reach of the end.
	wrapReach = 4
	// wrapBlind is the reach while no step is known yet, as a share of the span: a minute of microseconds.
	wrapBlind = 1.0 / 64
)

// how says what lies between a reading and the one before it.
type how int

const (
	follows   how = iota // nothing is known to be missing
	afterDrop            // a line between them lied about the time and was thrown away
	restarted            // the counter began anew, or the port was away
)

// stamp is a reading with its place on the counter.
type stamp struct {
	r     reading
	raw   float64 // counts since the base reading, wraps undone
	wraps int64   // wraps undone
}

// clock makes one growing time axis, in seconds from the first reading, of the printed counter. It holds
// one stamp back, so that a line that lies about the time is known by its successor:
//
//	back, then on from there                the counter restarted
//	back, then on from before               that one line lied
//	back, but not behind the last but one   the last line lied
type clock struct {
	out  func(r reading, at float64, h how)
	unit float64 // s per count

	base  number  // raw counts from this reading
	span  float64 // counts, of the 32-bit counter
	begin float64 // s on the axis, at base

	prev, held, cand          stamp // handed out last; held back; held back after a step back
	hasPrev, hasHeld, hasCand bool
	pending                   how // between prev and held

	away  bool    // the port was away since held was heard
	pause float64 // s, about how long; 0: not known

	long float64 // counts, the longest step of late
	at   float64 // s on the axis, of the last stamp handed out
	top  int64   // greatest counter reading, in its last digit
	high bool    // the counter was last seen where a signed 32-bit number would soon turn negative, or has

	resets, wraps, backward int64
}

// push takes the next reading.
func (c *clock) push(r reading) {
	r.num = c.unsign(r.num)
	c.top = max(c.top, r.num.digits)
	switch {
	case !c.hasHeld && !c.hasPrev:
		c.rebase(r)
		return
	case c.away:
		c.comeBack(r)
		return
	}
	x := c.place(r, c.held)
	switch {
	case c.hasCand:
		c.judge(x)
		return
	case x.raw >= c.held.raw:
		c.accept(x, follows)
		return
	case c.hasPrev:
		if y := c.place(r, c.prev); y.raw >= c.prev.raw {
			c.backward++
			c.held, c.pending = y, afterDrop
			return
		}
	}
	c.cand, c.hasCand = x, true
}

// judge settles what the step back to cand was, now that its successor is here.
func (c *clock) judge(x stamp) {
	switch {
	case x.raw >= c.held.raw:
		c.backward++
		c.hasCand = false
		c.accept(x, afterDrop)
	case x.raw >= c.cand.raw:
		c.restart(0)
		c.rebase(c.cand.r)
		c.push(x.r)
	default:
		c.backward++
		c.cand = x
	}
}

// accept hands out the held stamp and holds x.
func (c *clock) accept(x stamp, h how) {
	c.release()
	c.held, c.hasHeld, c.pending = x, true, h
}

// release hands out the held stamp.
func (c *clock) release() {
	if !c.hasHeld {
		return
	}
	if c.hasPrev {
		c.wraps += c.held.wraps - c.prev.wraps
		if c.pending == follows {
			c.long = math.Max(c.held.raw-c.prev.raw, c.long*0.99)
		}
	}
	c.at = c.begin + c.held.raw*c.unit
	c.out(c.held.r, c.at, c.pending)
	c.prev, c.hasPrev, c.hasHeld = c.held, true, false
}

// rebase begins a run of the counter at r.
func (c *clock) rebase(r reading) {
	c.base, c.span = r.num, counterSpan/math.Pow10(r.num.places)
	c.held, c.hasHeld, c.hasPrev, c.pending = stamp{r: r}, true, false, restarted
}

// restart ends a run of the counter; the next one begins pause seconds later, or one step later where the
// pause is not known.
func (c *clock) restart(pause float64) {
	c.resets++
	c.hasCand = false
	c.release()
	c.hasPrev = false
	c.begin = c.at + math.Max(pause, c.step()*c.unit)
}

// latest is the time of the last reading, held back or not, in seconds.
func (c *clock) latest() float64 {
	if c.hasHeld {
		return c.begin + c.held.raw*c.unit
	}
	return c.at
}

// step is the longest step of late in counts, or one count of the last digit.
func (c *clock) step() float64 {
	if c.long > 0 {
		return c.long
	}
	return c.span / counterSpan
}

// leave says that the port was away for about pause seconds (0: not known) after the last reading.
func (c *clock) leave(pause float64) {
	c.flush()
	c.away, c.pause = true, pause
}

// comeBack takes the first reading after the port was away. If the counter ran on meanwhile, the axis runs
// on with it; else the board restarted.
func (c *clock) comeBack(r reading) {
	c.away = false
	slack := 0.1*c.pause + 5 + 4*c.long*c.unit // s: the host's two looks at the port, and waiting for an edge on both sides
	wraps := c.prev.wraps
	for range 2 {
		x := c.on(r, wraps)
		step := (x.raw - c.prev.raw) * c.unit
		if step >= 0 && (c.pause == 0 || math.Abs(step-c.pause) <= slack) {
			c.held, c.hasHeld, c.pending = x, true, restarted
			return
		}
		if c.pause == 0 || !c.mayWrap(r.num) {
			break
		}
		wraps++
	}
	c.restart(c.pause)
	c.rebase(r)
}

// flush hands out what is held back. A step back that no successor explains counts as a restart.
func (c *clock) flush() {
	if c.hasCand {
		c.resets++
		c.hasCand = false
	}
	c.release()
}

// place puts r on the counter after stamp s, undoing a wrap. A step on by more than half the span after a
// wrap is a step back to before it.
func (c *clock) place(r reading, s stamp) stamp {
	x := c.on(r, s.wraps)
	switch {
	case !c.mayWrap(r.num):
		return x
	case x.raw-s.raw > c.span/2 && s.wraps > 0:
		return c.on(r, s.wraps-1)
	case x.raw >= s.raw:
		return x
	}
	y := c.on(r, s.wraps+1)
	step := y.raw - s.raw
	end := c.span - s.r.num.float()
	if c.long > 0 && step <= wrapReach*c.long || c.long == 0 && end <= wrapBlind*c.span && step <= 2*wrapBlind*c.span {
		return y
	}
	return x
}

// on puts r on the counter after so many wraps.
func (c *clock) on(r reading, wraps int64) stamp {
	return stamp{r, r.num.minus(c.base) + float64(wraps)*c.span, wraps}
}

// mayWrap: only digits below 2^32 can be a counter of 32 bits.
func (c *clock) mayWrap(n number) bool {
	return n.places == c.base.places && n.digits >= 0 && n.digits < counterSpan && c.base.digits < counterSpan
}

// unsign undoes the printing of an unsigned counter as a signed number.
func (c *clock) unsign(n number) number {
	if c.high && n.digits < 0 && n.digits >= -counterSpan/2 {
		n.digits += counterSpan
	}
	c.high = n.digits >= counterSpan/4 && n.digits < counterSpan
	return n
}
