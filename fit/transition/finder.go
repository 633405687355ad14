package transition

import (
	"math"
	"slices"
)

// Edge is one transition, or a break in what is known of the signal.
type Edge struct {
	X     float64 // where it crossed the reference: row index counted from 0, or seconds
	Cell  float64 // distance between the samples about the crossing, same unit
	Slope float64 // rise of the signal over the cell as a share of the amplitude: 1 when no sample lies on the slope
	Mid   float64 // mean of the samples about the crossing less the reference, along the edge, as a share of the amplitude; NaN if it crossed several times
	Rise  bool
	Break bool // not an edge: unknown samples start here
}

// Finder walks through samples and appends the edges it meets. Its zero value is not usable: call Set.
type Finder struct {
	Hold  bool    // a level holds until the next row: the edge is at its row (transition list)
	Below float64 // the samples nearest to the reference on either side that were met at crossings
	Above float64
	Runts int // pulses that crossed the reference but did not reach the far zone

	lower, middle, upper float64
	amplitude            float64

	state      int // unknown, low or high
	x, v       float64
	seen       bool // x and v hold the last known sample
	lost       int  // unknown samples since
	known      bool // some state has been known since the last break
	cross      float64
	count      int
	cell       float64
	slope, mid float64
}

const (
	unknown = iota
	low
	high
)

// Set fixes the levels: the reference, the full width of the hysteresis band around it, and the amplitude.
// It may be called again when the levels are revised.
func (f *Finder) Set(reference, hysteresis, amplitude float64) {
	f.lower, f.middle, f.upper = reference-hysteresis/2, reference, reference+hysteresis/2
	f.amplitude = amplitude
	f.Below, f.Above = math.Inf(-1), math.Inf(1)
}

// Lose forgets the state, as after a break between records.
func (f *Finder) Lose() { f.state, f.seen, f.count, f.lost = unknown, false, 0, 0 }

// bridged is how many unknown samples running are passed over where the state behind them is that before: no pulse that
// could be timed fits into them. An edge is placed across one such sample.
const bridged, edgeBridged = 4, 1

// Scan walks through the samples v; the first lies at x0 and the others one apart, or at the times t where t
// is not nil. It appends the edges to out and returns it.
func (f *Finder) Scan(x0 float64, t, v []float64, out []Edge) []Edge {
	i := 0
	for i < len(v) {
		if f.Hold && t != nil && f.seen && f.count == 0 {
			if i, out = f.swing(t, v, i, out); i == len(v) {
				break
			}
		}
		// Almost every sample ends here: still in the zone of its state. NaN leaves both loops.
		from := i
		rest := v[i:]
		switch f.state {
		case low:
			i += runBelow(rest, f.lower)
		case high:
			i += runAbove(rest, f.upper)
		}
		if i > from {
			f.x, f.v, f.seen, f.lost = at(x0, t, i-1), v[i-1], true, 0
			f.giveUp()
		}
		if i == len(v) {
			break
		}
		out = f.step(at(x0, t, i), v[i], out)
		i++
	}
	return out
}

// swing takes the rows of a transition list from row i on that go from one zone to the other, as all rows of one
// channel do; it returns the place of the first that does not.
func (f *Finder) swing(t, v []float64, i int, out []Edge) (int, []Edge) {
	if !(f.state == low && f.v < f.lower || f.state == high && f.v > f.upper) {
		return i, out
	}
	from, n, x, rise := i, len(out), f.x, f.state == low
	out = slices.Grow(out, len(v)-i)[:n+len(v)-i]
	t = t[:len(v)]
	for ; i < len(v) && n < len(out); i++ {
		if !(rise && v[i] > f.upper || !rise && v[i] < f.lower) {
			break
		}
		e := &out[n] // no literal: that would be made elsewhere and copied
		e.X, e.Cell, e.Slope, e.Mid, e.Rise, e.Break = t[i], t[i]-x, 1, 0, rise, false
		x, rise = t[i], !rise
		n++
	}
	if i > from {
		f.x, f.v, f.state = x, v[i-1], high
		if rise {
			f.state = low
		}
	}
	return i, out[:n]
}

// runBelow counts the samples up to the first that is not below the limit.
func runBelow(v []float64, limit float64) int {
	for k, x := range v {
		if !(x < limit) {
			return k
		}
	}
	return len(v)
}

// runAbove counts the samples up to the first that is not above the limit.
func runAbove(v []float64, limit float64) int {
	for k, x := range v {
		if !(x > limit) {
			return k
		}
	}
	return len(v)
}

func at(x0 float64, t []float64, i int) float64 {
	if t != nil {
		return t[i]
	}
	return x0 + float64(i)
}

// step takes one sample that is not plainly in the zone of its state.
func (f *Finder) step(x, v float64, out []Edge) []Edge {
	if f.lost++; math.IsNaN(v) {
		if !f.Hold && f.seen && f.lost <= bridged {
			return out
		}
		return f.broken(x, out)
	}
	if f.lost > 1+edgeBridged && f.seen && (v >= f.middle) != (f.v >= f.middle) {
		out = f.broken(x, out)
	}
	f.lost = 0
	if f.state == unknown {
		switch {
		case v < f.lower:
			f.state, f.known = low, true
		case v > f.upper || v >= f.upper && f.lower == f.upper:
			f.state, f.known = high, true
		}
		f.x, f.v, f.seen, f.count = x, v, true, 0
		return out
	}
	if f.seen && (v >= f.middle) != (f.v >= f.middle) {
		f.crossing(x, v)
	}
	f.x, f.v, f.seen = x, v, true
	rise := f.state == low
	switch {
	case rise && v >= f.upper, !rise && v <= f.lower && !(v >= f.middle):
		if f.count&1 == 1 {
			out = append(out, Edge{X: f.cross, Cell: f.cell, Slope: f.slope, Mid: f.mid, Rise: rise})
		}
		f.state = low + high - f.state
		f.count = 0
	case rise && v < f.lower, !rise && v > f.upper:
		f.giveUp()
	}
	return out
}

// broken says that the samples before x tell of nothing behind them.
func (f *Finder) broken(x float64, out []Edge) []Edge {
	if f.known {
		out = append(out, Edge{X: x, Break: true})
		f.known = false
	}
	f.Lose()
	return out
}

// giveUp forgets crossings that led nowhere.
func (f *Finder) giveUp() {
	if f.count > 0 {
		f.Runts++
		f.count = 0
	}
}

// crossing takes the passage of the reference between the sample before and this one. Where noise makes the
// signal cross several times within one transition, their alternating sum counts: it keeps the time spent
// above the reference, and so favours neither the first nor the last.
func (f *Finder) crossing(x, v float64) {
	c, slope, mid, cell := x, 1.0, 0.0, x-f.x
	if !f.Hold {
		part := 0.5
		if d := v - f.v; !math.IsInf(d, 0) && !math.IsNaN(d) {
			part = (f.middle - f.v) / d
			slope = math.Abs(d) / f.amplitude
			mid = ((v+f.v)/2 - f.middle) / f.amplitude
			if f.state == high {
				mid = -mid
			}
			f.Below, f.Above = max(f.Below, min(v, f.v)), min(f.Above, max(v, f.v))
		}
		c = f.x + part*cell
	}
	f.count++
	if f.count == 1 {
		f.cross, f.cell, f.slope, f.mid = c, cell, slope, mid
		return
	}
	f.cross = c - f.cross
	f.cell, f.slope, f.mid = cell, min(slope, f.slope), math.NaN()
}
