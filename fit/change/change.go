// Package change finds where a pulse train changes inside its record: one jump of its times, or a jump and a return, told by
// likelihood from a train that is steady, that drifts or that warms up.
//
// The middles of the pulses are a phase: a line where the train is steady, bent where its period jumps. Their noise is white,
// a random walk of the phase, a random walk of the period, or all three (NIST SP 1065, section 6: white phase, white
// frequency and random-walk frequency noise); every hypothesis is averaged over its shares. The lengths of the pulses
// are looked at by themselves, since a jump of both times may leave the period as it was.
//
// Of 20,000 simulated steady trains with jitter, walks, drift, warming up and rounding 17 change.
package change

import (
	"math"

	"offbeat/fit/stability"
	"offbeat/fit/train"
)

// Stretch is a part of the train between two changes, from the first rising edge to the last of those taken; unit of the edges.
type Stretch struct{ From, To float64 }

const (
	fewest     = 8    // cycles of a train
	briefest   = 3    // and of a stretch
	mostPoints = 160  // that are looked at; neighbours are averaged
	places     = 40   // where a change is looked for at first
	guarded    = 12   // points of a stretch that can spare those beside a change
	deepest    = 2    // how often a stretch is looked into again
	rounded    = 0.7  // more of the bar is asked where rounding, which is not normal, is all the noise there is
	resolved   = 1.5  // cells that a change moves edges by at least, where they are all rounded to those
	lags       = 8    // distances of edges that their own noise is sought in
	rounding   = 1e-9 // of the times, that the last digits of their numbers are worth at most
)

// Find gives the stretches of a train that changes; nil where it is steady, drifts, or is too short to tell. Each stretch is
// looked into in turn. cell is the sample interval or the quantum of the edges, 0: none. Where a train that warms up or wanders would
// look much the same, alike is true.
func Find(cycles []train.Cycle, cell float64) (found []Stretch, alike bool) {
	return find(cycles, cell, deepest)
}

func find(cycles []train.Cycle, cell float64, depth int) (out []Stretch, alike bool) {
	found, alike := once(cycles, cell)
	if len(found) == 0 || depth == 0 {
		return found, alike
	}
	for _, s := range found {
		var part []train.Cycle
		for _, c := range cycles {
			if c.Rise >= s.From && c.Fall <= s.To {
				part = append(part, c)
			}
		}
		if more, unsure := find(part, cell, depth-1); len(more) > 0 && !unsure {
			out = append(out, more...)
		} else {
			out = append(out, s)
		}
	}
	return out, alike
}

// once looks for one jump, or one jump and a return.
func once(cycles []train.Cycle, cell float64) (found []Stretch, alike bool) {
	p, ok := newPoints(cycles)
	if !ok {
		return nil, false
	}
	dither := p.dither(cell)
	p = p.thinned(mostPoints)
	if len(p.index) < fewest {
		return nil, false
	}
	var best jump
	coherent := math.Exp(-2 * math.Pi * math.Pi * dither)
	least := resolved * cell * coherent
	for _, s := range []*series{p.phases(), p.highs()} {
		if s.spread() < max(least, rounding*math.Abs(p.phase[len(p.phase)-1])) {
			continue // nothing that rounding could not do
		}
		s.coarse = 1
		if cell > 0 {
			s.coarse += rounded * coherent
		}
		f := s.search()
		// A jump of the duty factor alone moves the middles by a step, which looks like a jump of the period and a return at once.
		atOnce := len(best.at) == 2 && best.at[1]-best.at[0] < 3*s.shortest
		if f.moved > least && (f.gain > best.gain || f.gain > 0 && atOnce) {
			best = f
		}
	}
	if best.gain <= 0 {
		return nil, false
	}
	return p.stretches(best.at), best.alike
}

// In gives the places where values taken at given times, each the mean of so many cycles, begin to be others: a jump, a jump and a
// return, or several; nil where they do not change.
func In(at, values, counts []float64) []int {
	p := points{index: at, high: values, count: counts}
	if len(at) < fewest {
		return nil
	}
	s := p.highs()
	if s.spread() <= rounding*math.Abs(values[0]) {
		return nil
	}
	s.coarse = 1
	return s.search().at
}

// stretches lie between the changes at the given points; long ones leave out the points beside a change, which may hold it.
func (p *points) stretches(at []int) (out []Stretch) {
	from := 0
	for _, to := range append(at, len(p.index)) {
		first, last := from, to-1
		if to-from >= guarded {
			if from > 0 {
				first++
			}
			if to < len(p.index) {
				last--
			}
		}
		out = append(out, Stretch{p.from[first], p.to[last]})
		from = to
	}
	return out
}

// points are the whole cycles of a train, or averages of neighbours.
type points struct {
	index, phase, high, count []float64
	from, to                  []float64 // edges of the first and the last cycle in each
}

// newPoints numbers the cycles through the gaps of the train; not ok where a gap is no whole number of them, or where there
// are too few cycles.
func newPoints(cycles []train.Cycle) (p points, ok bool) {
	period := usual(cycles)
	if !(period > 0) {
		return p, false
	}
	base, rise := 0.0, 0.0
	for _, c := range cycles {
		if math.IsNaN(c.Rise) || math.IsNaN(c.Fall) {
			continue
		}
		if n := len(p.index); n == 0 {
			base = -c.Index
		} else if c.Start || c.Index+base <= p.index[n-1] {
			gap := (c.Rise - rise) / period
			whole := math.Round(gap)
			if math.Abs(gap-whole) > 0.2 || whole < 1 {
				return p, false
			}
			base = p.index[n-1] + whole - c.Index
		}
		rise = c.Rise
		half := float64(c.N-1) / 2 * period
		p.index = append(p.index, base+c.Index)
		p.phase = append(p.phase, (c.Rise+c.Fall)/2)
		p.high = append(p.high, c.Fall-c.Rise)
		p.count = append(p.count, float64(c.N))
		p.from, p.to = append(p.from, c.Rise-half), append(p.to, c.Fall+half)
	}
	return p, len(p.index) >= fewest
}

// dither is the variance of single edges beyond their rounding, in cells²: as it grows, what rounding does to a mean fades
// with exp(-2π² dither) (Widrow and Kollár, Quantization Noise, 2008, chapter 9). Rounding of a period near a whole number of cells and
// a half, a third or so alternates like noise, but not where every second or third edge is looked at.
func (p *points) dither(cell float64) float64 {
	if cell == 0 {
		return 0
	}
	least := math.Inf(1)
	for lag := 1; lag <= lags; lag++ {
		sum, n := 0.0, 0.0
		for i := 2 * lag; i < len(p.phase); i++ {
			if apart := float64(lag) * p.count[i]; p.index[i]-p.index[i-lag] == apart && p.index[i-lag]-p.index[i-2*lag] == apart {
				d := p.phase[i] - 2*p.phase[i-lag] + p.phase[i-2*lag]
				sum += d * d * p.count[i]
				n++
			}
		}
		if n >= fewest/2 {
			least = min(least, sum/n)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return max(least/3/(cell*cell)-1.0/12, 0) // a middle has half the variance of an edge, a second difference six times that
}

// usual is the median period between neighbours.
func usual(cycles []train.Cycle) float64 {
	var d []float64
	for i := 1; i < len(cycles); i++ {
		a, b := &cycles[i-1], &cycles[i]
		if x := (b.Rise - a.Rise) / (b.Index - a.Index); !b.Start && x > 0 {
			d = append(d, x)
		}
	}
	if len(d) == 0 {
		return 0
	}
	return stability.Median(d)
}

// thinned averages neighbours until at most n points are left.
func (p points) thinned(n int) points {
	group := (len(p.index) + n - 1) / n
	if group <= 1 {
		return p
	}
	var out points
	for i := 0; i+group <= len(p.index); i += group {
		var index, phase, high, count float64
		for k := i; k < i+group; k++ {
			w := p.count[k]
			index, phase, high, count = index+w*p.index[k], phase+w*(p.phase[k]-p.phase[i]), high+w*p.high[k], count+w
		}
		out.index, out.phase = append(out.index, index/count), append(out.phase, p.phase[i]+phase/count)
		out.high, out.count = append(out.high, high/count), append(out.count, count)
		out.from, out.to = append(out.from, p.from[i]), append(out.to, p.to[i+group-1])
	}
	if n := len(out.to); n > 0 {
		out.to[n-1] = p.to[len(p.to)-1]
	}
	return out
}

// series are the values that a change is looked for in.
type series struct {
	x, y     []float64   // places, from 0 to 1, and values
	white    []float64   // variance of the white noise of each, in units of the usual one
	coarse   float64     // what the bars are multiplied by
	smooth   float64     // share of a walk's step from value to value by which averaging lessens that
	phase    bool        // y is a phase: a jump of the period bends it; else y is a time itself
	powers   [][]float64 // of the places, up to the largest degree
	warming  [][]float64 // what a time does beside a drift that approaches its last value exponentially, at some rates
	shortest int         // points of a stretch at least
}

func (p *points) phases() *series { return p.series(p.phase, true) }
func (p *points) highs() *series  { return p.series(p.high, false) }

func (p *points) series(y []float64, phase bool) *series {
	n := len(y)
	s := &series{y: y, phase: phase}
	span := p.index[n-1] - p.index[0]
	usual := stability.Median(p.count)
	for i := range y {
		s.x = append(s.x, (p.index[i]-p.index[0])/span)
		s.white = append(s.white, usual/p.count[i])
	}
	first := s.first()
	for k := range first + 2 {
		v := make([]float64, n)
		for i, x := range s.x {
			v[i] = math.Pow(2*x-1, float64(k))
		}
		s.powers = append(s.powers, v)
	}
	// A value is the mean of 2N edges. Neighbouring means of a walk differ by its step, less by as much as white noise of a negative
	// variance would take: the covariance of their differences is q (k² - 1)/6k for k edges with steps of variance q (Working,
	// Econometrica 28, 1960).
	if phase {
		s.smooth = (4*usual*usual - 1) / (24 * usual * usual)
	}
	for _, rate := range []float64{0, 1, 3, 10} {
		v := make([]float64, n)
		for i, x := range s.x {
			if v[i] = math.Exp(-rate * x); rate == 0 { // of a phase too, but for a line
				v[i] = math.Pow(2*x-1, float64(first+2))
			}
		}
		s.warming = append(s.warming, v)
	}
	s.shortest = max(int(math.Ceil(briefest/usual)), 2)
	return s
}

// spread is the range of the values about their line of least squares.
func (s *series) spread() float64 {
	b := s.plain(1)
	r := append([]float64(nil), s.y...)
	b.off(r)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range r {
		lo, hi = min(lo, v), max(hi, v)
	}
	return hi - lo
}
