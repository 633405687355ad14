package follow

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/stability"
)

// Point is what the pulses between two instants say: mean high and low time.
type Point struct {
	Begin, End float64      // s, on the capture's time axis
	High, Low  fit.Estimate // s
	Covariance float64      // s², of the two means: they share edges
	Cycles     int
	odd        int
}

// Time is the middle of the point in s.
func (p Point) Time() float64 { return (p.Begin + p.End) / 2 }

// Measurement gives the point in the form that the back-solve takes.
func (p Point) Measurement() *fit.Measurement {
	return &fit.Measurement{High: p.High, Low: p.Low, Covariance: p.Covariance, Cycles: p.Cycles}
}

// Join makes one point of several in a row, weighted by their pulses.
func Join(ps []Point) Point {
	out := Point{Begin: ps[0].Begin, End: ps[len(ps)-1].End}
	for _, p := range ps {
		out.Cycles += p.Cycles
		out.High.Count += p.High.Count
		out.Low.Count += p.Low.Count
		out.odd += p.odd
	}
	mean := func(of func(*Point) *fit.Estimate) (value, variance float64) {
		n := math.Max(float64(of(&out).Count), 1)
		for i := range ps {
			e := of(&ps[i])
			w := float64(e.Count) / n
			value += w * e.Value
			variance += w * w * e.Uncertainty * e.Uncertainty
		}
		return value, variance
	}
	high := func(p *Point) *fit.Estimate { return &p.High }
	low := func(p *Point) *fit.Estimate { return &p.Low }
	var vh, vl float64
	out.High.Value, vh = mean(high)
	out.Low.Value, vl = mean(low)
	out.High.Uncertainty, out.Low.Uncertainty = math.Sqrt(vh), math.Sqrt(vl)
	for _, p := range ps {
		if out.Low.Count == 0 {
			break
		}
		out.Covariance += p.Covariance * float64(p.High.Count) / float64(out.High.Count) * float64(p.Low.Count) / float64(out.Low.Count)
	}
	return out
}

// Run keeps points in bounded memory, evenly over its whole length: as it grows, more and more points in a
// row are joined into one. The latest are always there one by one.
type Run struct {
	points []Point
	joined int // of points[:joined] each is every points
	every  int
	odd    int // pulses left out
}

// maxPoints are kept.
const maxPoints = 4096

func (r *Run) add(p Point) {
	r.every = max(r.every, 1)
	r.odd += p.odd
	r.points = append(r.points, p)
	if len(r.points)-r.joined == r.every {
		r.points[r.joined] = Join(r.points[r.joined:])
		r.joined++
		r.points = r.points[:r.joined]
	}
	if r.joined < maxPoints {
		return
	}
	for i := range maxPoints / 2 {
		r.points[i] = Join(r.points[2*i : 2*i+2])
	}
	r.joined, r.every = maxPoints/2, 2*r.every
	r.points = r.points[:r.joined]
}

// leastCorrelation of the two means, made positive. White noise of the edges drives it towards -1, where the
// period's variance is a small difference of estimated numbers: better a period too uncertain than too sure.
const leastCorrelation = 0.8

// oddPulse is how far from the median a pulse may be and still belong to the train.
const oddPulse = 0.3

// cycles gathers the pulses of one point.
type cycles struct {
	width  [2][]float64 // s, of low [0] and of high [1] pulses, in order
	pairs  []pair       // neighbours, for the covariance
	last   [2]float64   // s, the last pulse of either level
	prev   float64      // s, the pulse just before; NaN: a break
	level  int          // of it
	begun  bool
	single bool // the low pulses are not fitted
}

// pair is a high pulse and the low one beside it.
type pair struct{ high, low float64 }

// split says that pulses are missing here.
func (c *cycles) split() { c.prev = math.NaN() }

func (c *cycles) add(high bool, width float64) {
	k := 0
	if high {
		k = 1
	}
	c.width[k] = append(c.width[k], width)
	c.last[k] = width
	if c.begun && c.level != k && !math.IsNaN(c.prev) {
		if high {
			c.pairs = append(c.pairs, pair{width, c.prev})
		} else {
			c.pairs = append(c.pairs, pair{c.prev, width})
		}
	}
	c.prev, c.level, c.begun = width, k, true
}

// whole is the number of whole cycles.
func (c *cycles) whole() int {
	if c.single {
		return len(c.width[1])
	}
	return min(len(c.width[0]), len(c.width[1]))
}

func (c *cycles) reset() {
	c.width[0], c.width[1], c.pairs = c.width[0][:0], c.width[1][:0], c.pairs[:0]
	c.begun = false
}

// point makes a point of the pulses; quantum is the step of their times in s.
func (c *cycles) point(quantum float64) (Point, bool) {
	var p Point
	var mid [2]float64
	for k, e := range []*fit.Estimate{&p.Low, &p.High} {
		if k == 0 && c.single {
			continue
		}
		mid[k] = stability.Median(c.width[k])
		var sound []float64
		for _, w := range c.width[k] {
			if math.Abs(w-mid[k]) <= oddPulse*mid[k] {
				sound = append(sound, w)
			}
		}
		if len(sound) < fewCycles {
			return p, false
		}
		p.odd += len(c.width[k]) - len(sound)
		*e = mean(sound, quantum)
	}
	if c.single {
		p.Cycles = p.High.Count
		return p, true
	}
	p.Cycles = min(p.High.Count, p.Low.Count)
	for _, q := range c.pairs {
		h, l := q.high-p.High.Value, q.low-p.Low.Value
		if math.Abs(h) <= oddPulse*mid[1] && math.Abs(l) <= oddPulse*mid[0] {
			p.Covariance += h * l
		}
	}
	p.Covariance /= float64(p.High.Count) * float64(p.Low.Count)
	limit := p.High.Uncertainty * p.Low.Uncertainty
	p.Covariance = max(-leastCorrelation*limit, min(p.Covariance, 0.999*limit))
	return p, true
}

// mean of at least fewCycles pulses, with its standard uncertainty. Two parts of it: the scatter, estimated
// from these pulses (with the t-distribution's spread, JCGM 101 6.4.9.4), which averages out; and the
// rounding of both edges to the quantum, q/√6, which does so only as far as jitter breaks it up. Jitter of an
// edge with standard deviation σ shrinks the mean rounding error by exp(-2π²σ²/q²), its first harmonic (Widrow
// and Kollár, Quantization Noise, 2008, chapter 9); a pulse has the jitter of two edges. Without jitter the
// rounding of each pulse may be the same, however many there are.
func mean(v []float64, quantum float64) fit.Estimate {
	n := float64(len(v))
	m := 0.0
	for _, x := range v {
		m += x / n
	}
	s := 0.0
	for _, x := range v {
		s += (x - m) * (x - m) / (n - 1)
	}
	q := quantum * quantum
	u := max(s, q/6) / n * (n - 1) / (n - 3)
	if q > 0 {
		u += q / 6 * math.Exp(-2*math.Pi*math.Pi*max(s-q/6, 0)/q)
	}
	return fit.Estimate{Value: m, Uncertainty: math.Sqrt(u), Count: len(v)}
}
