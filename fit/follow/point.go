package follow

import (
	"math"

	"gonum.org/v1/gonum/stat"

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
	noise      *noise  // of its edges; nil: not known
	stretches  int     // of pulses that follow each other
	quantum    float64 // s, step of the times
	order      []pulse // where they are few; nil: not kept
}

// Time is the middle of the point in s.
func (p Point) Time() float64 { return (p.Begin + p.End) / 2 }

// Measurement gives the point in the form that the back-solve takes.
func (p Point) Measurement() *fit.Measurement {
	return &fit.Measurement{High: p.High, Low: p.Low, Covariance: p.Covariance, Cycles: p.Cycles}
}

// Join makes one point of several in a row, weighted by their pulses.
func Join(ps []Point) Point {
	if p, ok := pool(ps); ok {
		return p
	}
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
	all := &noise{}
	for i, p := range ps {
		if p.noise == nil {
			return out
		}
		all.add(p.noise)
		out.stretches += p.stretches
		if i > 0 && p.Begin == ps[i-1].End && p.stretches == 1 && ps[i-1].stretches == 1 {
			out.stretches-- // where the one ends the other begins, and the noise of that edge cancels
		}
		out.quantum = max(out.quantum, p.quantum)
	}
	out.setNoise(all)
	return out
}

// So many pulses are kept of a point, and so many of several are looked at as one.
const (
	fewPulses  = 128
	manyPulses = 4096
)

// pool makes one point of the pulses of several, if they have kept them: of few pulses each alone says little of its noise.
func pool(ps []Point) (Point, bool) {
	all := cycles{}
	odd, quantum := 0, 0.0
	for i, p := range ps {
		if p.order == nil || len(all.order) > manyPulses {
			return p, false
		}
		at := len(all.order)
		all.order = append(all.order, p.order...)
		if i > 0 && p.Begin != ps[i-1].End {
			all.order[at].first = true
		}
		quantum = max(quantum, p.quantum)
		odd += p.odd
	}
	for _, w := range all.order {
		all.width[w.level] = append(all.width[w.level], w.width)
	}
	p, ok := all.point(quantum)
	p.Begin, p.End, p.odd = ps[0].Begin, ps[len(ps)-1].End, odd
	return p, ok
}

// setNoise sets the covariance so that the mean period is as uncertain as its noise makes it. The rounding of the two ends of a
// stretch counts as noise of theirs.
func (p *Point) setNoise(s *noise) {
	p.noise = s
	n := float64(p.Cycles)
	variance := max(s.sum(p.stretches), p.quantum*p.quantum/6*float64(p.stretches)) / (n * n)
	// Edges that jitter leave both times alike uncertain, and their scatter tells either by chance: the two can't differ by more
	// than the period is uncertain.
	middle, half := (p.High.Uncertainty+p.Low.Uncertainty)/2, math.Sqrt(variance)/2*(1-1e-9)
	apart := min(max((p.High.Uncertainty-p.Low.Uncertainty)/2, -half), half)
	p.High.Uncertainty, p.Low.Uncertainty = middle+apart, middle-apart
	limit := p.High.Uncertainty * p.Low.Uncertainty
	p.Covariance = (variance - p.High.Uncertainty*p.High.Uncertainty - p.Low.Uncertainty*p.Low.Uncertainty) / 2
	p.Covariance = max(-limit, min(p.Covariance, limit))
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
		if r.every > 1 {
			r.points[r.joined] = Join(r.points[r.joined:])
			r.points[r.joined].order = nil
		}
		r.joined++
		r.points = r.points[:r.joined]
	}
	if r.joined < maxPoints {
		return
	}
	for i := range maxPoints / 2 {
		r.points[i] = Join(r.points[2*i : 2*i+2])
		r.points[i].order = nil
	}
	r.joined, r.every = maxPoints/2, 2*r.every
	r.points = r.points[:r.joined]
}

// oddPulse is how far from the median a pulse may be and still belong to the train.
const oddPulse = 0.3

// belongs reports whether a pulse so long is one of a train whose median is so long, both in s.
func belongs(width, median float64) bool { return math.Abs(width-median) <= oddPulse*median }

// cycles gathers the pulses of one point.
type cycles struct {
	width  [2][]float64 // s, of low [0] and of high [1] pulses, in order
	order  []pulse      // both, for the covariance
	last   [2]float64   // s, the last pulse of either level
	broken bool         // since the pulse just before
	single bool         // the low pulses are not fitted
}

type pulse struct {
	width float64 // s
	level int
	first bool // the pulse before it is missing
}

// split says that pulses are missing here.
func (c *cycles) split() { c.broken = true }

func (c *cycles) add(high bool, width float64) {
	k := 0
	if high {
		k = 1
	}
	c.width[k] = append(c.width[k], width)
	c.last[k] = width
	c.order = append(c.order, pulse{width, k, c.broken})
	c.broken = false
}

// whole is the number of whole cycles.
func (c *cycles) whole() int {
	if c.single {
		return len(c.width[1])
	}
	return min(len(c.width[0]), len(c.width[1]))
}

func (c *cycles) reset() {
	c.width[0], c.width[1], c.order = c.width[0][:0], c.width[1][:0], c.order[:0]
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
			if belongs(w, mid[k]) {
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
	var spans []span
	whole := false
	for _, w := range c.order {
		if !belongs(w.width, mid[w.level]) {
			whole = false
			continue
		}
		if w.first || !whole {
			spans = append(spans, span{})
		}
		whole = true
		s := &spans[len(spans)-1]
		s.width, s.level = append(s.width, w.width-mid[w.level]), append(s.level, w.level)
	}
	p.stretches, p.quantum = len(spans), quantum
	if s := newNoise(spans); s != nil {
		p.setNoise(s)
		if len(c.order) <= fewPulses {
			p.order = append(p.order, c.order...)
		}
	}
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
	m, s := stat.MeanVariance(v, nil)
	q := quantum * quantum
	u := max(s, q/6) / n * (n - 1) / (n - 3)
	if q > 0 {
		u += q / 6 * math.Exp(-2*math.Pi*math.Pi*max(s-q/6, 0)/q)
	}
	return fit.Estimate{Value: m, Uncertainty: math.Sqrt(u), Count: len(v)}
}

const (
	patience    = 10      // spans after which a point may have few cycles
	fewCycles   = 4       // that it then needs, so that its scatter is known
	maxCycles   = 1 << 14 // of one point: more end it before its time
	levelWindow = 1 << 12 // samples in which the state levels are looked for
)
