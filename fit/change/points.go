package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/fit/stability"
	"offbeat/fit/train"
)

const (
	fewest     = 8   // cycles of a train
	briefest   = 3   // and of a stretch
	lags       = 8   // distances of edges that their own noise is sought in
	mostPoints = 160 // that are looked at; neighbours are averaged
	single     = 8   // cycles beside a change that are not averaged where it is sized
)

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

// The variance of the second difference of such values, over that of a single edge: a middle has half of an edge's, a high time twice.
const ofMiddles, ofHighs = 3, 12

// dither is the variance of single edges beyond their rounding, in cells², by values with so much of it in their second difference: as
// it grows, what rounding does to a mean fades with exp(-2π² dither) (Widrow and Kollár, Quantization Noise, 2008, chapter 9). Rounding of
// a period near a whole number of cells and a half, a third or so alternates like noise, but not where every second or third edge is
// looked at. High times near a whole number of cells are all the same, whatever the middles do.
func (p *points) dither(cell float64, of []float64, share float64) float64 {
	least := math.Inf(1)
	for lag := 1; lag <= lags; lag++ {
		sum, n := 0.0, 0.0
		for i := 2 * lag; i < len(of); i++ {
			if apart := float64(lag) * p.count[i]; p.index[i]-p.index[i-lag] == apart && p.index[i-lag]-p.index[i-2*lag] == apart {
				d := of[i] - 2*of[i-lag] + of[i-2*lag]
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
	return max(least/share/(cell*cell)-1.0/12, 0)
}

// coherent is how far rounding to cells moves means of such values as it moves single ones: 0 where there are no cells.
func (p *points) coherent(cell float64, of []float64, share float64) float64 {
	if cell == 0 {
		return 0
	}
	return math.Exp(-2 * math.Pi * math.Pi * p.dither(cell, of, share))
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
	var starts []int
	for i := 0; i+group <= len(p.index); i += group {
		starts = append(starts, i)
	}
	return p.grouped(starts, len(starts)*group)
}

// focused averages neighbours but for those near the given points, and says where those are then.
func (p points) focused(at []int) (out points, now []int) {
	group := (len(p.index) + mostPoints - 1) / mostPoints
	if group <= 1 {
		return p, at
	}
	var starts []int
	for i := 0; i < len(p.index); {
		if slices.Contains(at, i) {
			now = append(now, len(starts))
		}
		starts = append(starts, i)
		near := slices.ContainsFunc(at, func(a int) bool { return i+group > a-single && i <= a+single })
		if i++; !near {
			i = min(i+group-1, len(p.index))
		}
	}
	return p.grouped(starts, len(p.index)), now
}

// grouped averages the points from each of the starts to the next, and to the end.
func (p points) grouped(starts []int, end int) (out points) {
	for k, i := range starts {
		to := end
		if k+1 < len(starts) {
			to = starts[k+1]
		}
		var index, phase, high, count float64
		for k := i; k < to; k++ {
			w := p.count[k]
			index, phase, high, count = index+w*p.index[k], phase+w*(p.phase[k]-p.phase[i]), high+w*p.high[k], count+w
		}
		out.index, out.phase = append(out.index, index/count), append(out.phase, p.phase[i]+phase/count)
		out.high, out.count = append(out.high, high/count), append(out.count, count)
		out.from, out.to = append(out.from, p.from[i]), append(out.to, p.to[to-1])
	}
	out.to[len(out.to)-1] = p.to[len(p.to)-1]
	return out
}

// finer places changes between averages of a group of points each among the points themselves: where the high times and periods of
// the two sides lie closest to their own means, within two groups of where the averages change.
func (p *points) finer(at []int, group int) (out []int) {
	period := func(i int) float64 { return (p.from[i+1] - p.from[i]) / (p.index[i+1] - p.index[i]) }
	squares := func(of func(int) float64, a, b int) float64 {
		v := make([]float64, 0, b-a)
		for i := a; i < b; i++ {
			v = append(v, of(i))
		}
		mean, variance := stat.PopMeanVariance(v, nil)
		return variance / (mean * mean) * float64(b-a)
	}
	high := func(i int) float64 { return p.high[i] }
	from := 0
	for k, a := range at {
		to := len(p.index) - 1 // the last has no period
		if k+1 < len(at) {
			to = at[k+1] * group
		}
		a *= group
		best, least := a, math.Inf(1)
		for b := max(from+1, a-2*group); b <= min(a+2*group, to-1); b++ {
			if s := squares(high, from, b) + squares(high, b, to) + squares(period, from, b) + squares(period, b, to); s < least {
				best, least = b, s
			}
		}
		out, from = append(out, best), best
	}
	return out
}

func (p *points) phases() *series { return p.series(p.phase, true) }
func (p *points) highs() *series  { return p.series(p.high, false) }

func (p *points) series(y []float64, phase bool) *series {
	n := len(y)
	s := &series{y: y, phase: phase, unit: 1}
	span := p.index[n-1] - p.index[0]
	if phase {
		s.unit = span
	}
	usual := stability.Median(p.count)
	s.cycles = span * usual
	for i := range y {
		s.x = append(s.x, (p.index[i]-p.index[0])/span)
		s.white = append(s.white, usual/p.count[i])
		// A value is the mean of 2N edges. Neighbouring means of a walk differ by its step, less by as much as white noise of a negative
		// variance would take: the covariance of their differences is q (k² - 1)/6k for k edges with steps of variance q (Working,
		// Econometrica 28, 1960).
		smooth := 0.0
		if n := p.count[i]; phase {
			smooth = (4*n*n - 1) / (24 * n * span)
		}
		s.smooth = append(s.smooth, smooth)
	}
	first := s.first()
	s.degree = first + 1
	for k := range first + 2 {
		v := make([]float64, n)
		for i, x := range s.x {
			v[i] = math.Pow(2*x-1, float64(k))
		}
		s.powers = append(s.powers, v)
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
	s.brief = (briefest - 1) / span
	s.shortest = max(int(math.Ceil(briefest/usual)), 2)
	return s
}
