package stream

import (
	"cmp"
	"math"
	"slices"

	"offbeat/acquire/internal/grid"
)

// edges makes rows of state from lines that each tell of one edge.
type edges struct {
	out   *Rows
	at    float64 // s, of the last row
	state int8    // after the last edge; -1: none yet

	lost, doubled int64
	run           int // lines of one state in a row
}

// add takes the next edge. Where an edge was missed, the state between is not known, but the edge itself is:
// before it stood the other state.
func (e *edges) add(r reading, at float64, h how) {
	d := at - e.at
	switch {
	case e.state < 0:
	case h == restarted:
		e.out.add(e.at+d/2, math.NaN())
	case r.state == e.state && d == 0 && h == follows:
		e.doubled++
		return
	case h == afterDrop || r.after || r.state == e.state:
		if h == follows && r.state == e.state {
			e.lost++
		}
		e.out.add(e.at+d/3, math.NaN())
		e.out.add(e.at+2*d/3, float64(1-r.state))
	}
	e.run++
	if h != follows || r.state != e.state {
		e.run = 0
	}
	e.out.add(at, float64(r.state))
	e.at, e.state = at, r.state
}

// samples makes rows from lines that each tell the reading at one look.
type samples struct {
	out     *Rows
	at      float64
	started bool
	looks   int     // that followed one another
	spent   float64 // s, between them

	low, high float64 // of what was read so far
	up        bool    // on the upper side, hysteresis counted
	edges     int64
}

// add takes the next look. A look that was missed leaves no hole: the next one tells the same.
func (s *samples) add(r reading, at float64, h how) {
	if s.started && h == restarted {
		s.out.add((s.at+at)/2, math.NaN())
	}
	if s.started && h == follows {
		s.looks++
		s.spent += at - s.at
	}
	s.count(r.value)
	s.out.add(at, r.value)
	s.at, s.started = at, true
}

// interval is the mean time between two looks in seconds, 0 where there was only one.
func (s *samples) interval() float64 {
	if s.looks == 0 {
		return 0
	}
	return s.spent / float64(s.looks)
}

// count counts passes through the middle 20 % of the span seen so far; it serves the stream's counts only.
func (s *samples) count(v float64) {
	if !s.started {
		s.low, s.high = v, v
	}
	s.low, s.high = math.Min(s.low, v), math.Max(s.high, v)
	x := (v - s.low) / (s.high - s.low)
	if up := x > 0.6; up != s.up && (up || x < 0.4) {
		s.up = up
		s.edges++
	}
}

// durations makes rows of state from lines that each tell how long a state lasted.
type durations struct {
	out    *Rows
	unit   float64 // s per count
	at     float64 // s, end of what was told so far
	state  int8    // that was told last; -1: none yet, or after a break
	broken bool    // something not known lies before the next line
	told   bool    // a row is out
	usual  [2]float64
	turns  turns

	lost int64
}

// add takes the next duration; its level is -1 where the line does not say.
func (t *durations) add(n number, level int8) {
	d := n.float() * t.unit
	if level < 0 {
		level = t.turns.level(d, t.state)
	}
	switch {
	case d <= 0: // what a board prints when it waited in vain
		t.lost++
		t.pause(0)
		return
	case t.state < 0 || t.broken:
		if t.told {
			t.out.add(t.at+d/2, math.NaN())
			t.at += d
		}
		t.out.add(t.at, float64(level))
	case level == t.state:
		t.lost++
		gap := t.usual[1-level]
		gap = cmp.Or(gap, d)
		t.out.add(t.at+gap/3, math.NaN())
		t.out.add(t.at+2*gap/3, float64(1-level))
		t.at += gap
		t.out.add(t.at, float64(level))
	}
	t.at += d
	t.out.add(t.at, float64(1-level))
	t.usual[level] = d
	t.state, t.broken, t.told = level, false, true
}

// pause says that something not known, about so many seconds long, follows.
func (t *durations) pause(seconds float64) {
	t.at += seconds
	t.broken = true
	t.turns.lose()
}

const (
	turnsGain   = 1.0 / 16 // weight of a new duration in the running mean
	turnsClear  = 0.05     // least distance of the two mean durations, in ln, that a lost line shows by
	turnsSpread = 6        // and in standard deviations of one duration
)

// turns tells the level of durations that come in turn without saying so. A lost line shows where two
// durations in a row belong to the same side; it can't where high and low last alike.
type turns struct {
	seen   int
	mean   [2]float64 // ln s
	spread float64    // mean square about the means, ln
	lost   bool       // whose turn it is, is not known
}

func (u *turns) lose() { u.lost = u.seen > 0 }

// level of a duration of d seconds that follows one of level last (-1: none).
func (u *turns) level(d float64, last int8) int8 {
	if d <= 0 {
		return last
	}
	x, next := math.Log(d), 1-last
	if last < 0 && !u.lost {
		next = 1
	}
	switch {
	case u.seen == 0: // the first line may be cut: it teaches nothing
	case u.seen <= 2:
		u.mean[next] = x
	default:
		here, other := math.Abs(x-u.mean[next]), math.Abs(x-u.mean[1-next])
		apart := math.Abs(u.mean[0] - u.mean[1])
		clear := apart > turnsClear && apart > turnsSpread*math.Sqrt(u.spread)
		if clear && (u.lost && other < here || other < apart/4 && here > apart/2) {
			next, here = 1-next, other
		}
		if here < apart/4 || !clear {
			u.spread += turnsGain * (here*here - u.spread)
			u.mean[next] += turnsGain * (x - u.mean[next])
		}
	}
	u.seen++
	u.lost = false
	return next
}

// granules are the steps, in counts of the last printed digit, that counters move in: powers of two where a
// prescaled timer is printed in microseconds, powers of ten where printed digits are padding.
var granules = [...]int64{2, 4, 5, 8, 10, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 128, 200, 250, 256, 500, 512, 1000, 1024}

const (
	granuleLook  = 4096 // differences looked at
	granuleFew   = 32   // fewer than this show nothing
	granuleShare = 0.98 // of them that a granule must divide: a few may be garbled
)

// granule finds the greatest common step of the printed times.
type granule struct {
	n     int
	hits  [len(granules)]int
	kinds []int64 // the first different differences
}

// add takes a difference of two times, in counts of the last digit.
func (g *granule) add(d int64) {
	if d == 0 || g.n >= granuleLook {
		return
	}
	g.n++
	if len(g.kinds) < grid.Kinds && !slices.Contains(g.kinds, d) {
		g.kinds = append(g.kinds, d)
	}
	for i, s := range granules {
		if d%s == 0 {
			g.hits[i]++
		}
	}
}

// counts is the common step, 1 where none shows.
func (g *granule) counts() int64 {
	if g.n < granuleFew {
		return 1
	}
	best := int64(1)
	for i, s := range granules {
		if float64(g.hits[i]) >= granuleShare*float64(g.n) {
			best = s
		}
	}
	return grid.Shown(best, len(g.kinds))
}
