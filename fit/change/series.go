package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// series are the values that a change is looked for in.
type series struct {
	x, y     []float64   // places, from 0 to 1, and values
	white    []float64   // variance of the white noise of each, in units of the usual one
	coarse   float64     // what the bars are multiplied by
	least    float64     // that a change moves the values by
	smooth   []float64   // of each, how much of a walk of unit size over the record averaging takes off
	phase    bool        // y is a phase: a jump of the period bends it; else y is a time itself
	powers   [][]float64 // of the places, up to the largest degree
	degree   int         // of the polynomial beside which changes are sized
	warming  [][]float64 // what a time does beside a drift that approaches its last value exponentially, at some rates
	shortest int         // points of a stretch at least
	brief    float64     // the same on the axis of the places
	unit     float64     // of the places, in cycles of a phase
	cycles   float64     // of the record, in those of a point: so much less a walk adds to from cycle to cycle, in white noise of one
}

// first is the degree of a steady train's polynomial.
func (s *series) first() int {
	if s.phase {
		return 1
	}
	return 0
}

// spread is the range of the values about their line of least squares.
func (s *series) spread() float64 { return s.beyond(slices.Clone(s.y), 1) }

// beyond is the range of v about its polynomial of least squares; v is changed.
func (s *series) beyond(v []float64, degree int) float64 {
	b := &basis{}
	for k := range degree + 1 {
		b.add(slices.Clone(s.powers[k]))
	}
	b.off(v)
	return slices.Max(v) - slices.Min(v)
}

// form is that of a change that begins at a point.
func (s *series) form(at int) []float64 { return s.bend(s.before(at)) }

// before is the place midway between a point and the one before it.
func (s *series) before(i int) float64 { return (s.x[i-1] + s.x[i]) / 2 }

// bend is what a change of unit size at a place adds to the values.
func (s *series) bend(place float64) []float64 {
	v := make([]float64, len(s.x))
	for i, x := range s.x {
		switch {
		case x <= place:
		case s.phase:
			v[i] = x - place
		default:
			v[i] = 1
		}
	}
	return v
}

// basis are the whitened powers up to a degree.
func (s *series) basis(w *whitening, degree int) *basis {
	b := &basis{}
	for k := range degree + 1 {
		b.add(w.white(s.powers[k]))
	}
	return b
}

// noise is how much the walk of the phase and that of the period add up to over the record, as variances in units of one
// point's white noise.
type noise struct{ walk, wander float64 }

func (s *series) filter(noise noise) *whitening {
	walk, wander := noise.walk, noise.wander
	n := len(s.x)
	w := &whitening{gain: make([][2]float64, n), scale: make([]float64, n), step: make([]float64, n)}
	var p [3]float64 // covariance of the phase and its slope: 00, 01, 11
	for i := range n {
		if i > 0 {
			d := s.x[i] - s.x[i-1]
			w.step[i] = d
			p[0] += 2*d*p[1] + d*d*p[2] + walk*d + 3*wander*d*d*d/3
			p[1] += d*p[2] + 3*wander*d*d/2
			p[2] += 3 * wander * d
		}
		v := p[0] + s.white[i]
		if i > 0 {
			v -= s.smooth[i] * walk
		}
		w.gain[i] = [2]float64{p[0] / v, p[1] / v}
		w.scale[i] = 1 / math.Sqrt(v)
		w.logs += math.Log(v)
		p = [3]float64{p[0] * (1 - w.gain[i][0]), p[1] * (1 - w.gain[i][0]), p[2] - w.gain[i][1]*p[1]}
	}
	return w
}

// whitening turns values with the noise into independent ones of unit variance (a Kalman filter's innovations).
type whitening struct {
	gain  [][2]float64
	scale []float64
	step  []float64
	logs  float64 // sum of the logarithms of the innovations' variances
}

// white gives the innovations of y.
func (w *whitening) white(y []float64) []float64 {
	out := make([]float64, len(y))
	from := 0
	for from < len(y) && y[from] == 0 { // a change has not come yet
		from++
	}
	var phase, slope float64
	for i := from; i < len(y); i++ {
		phase += slope * w.step[i]
		e := y[i] - phase
		out[i] = e * w.scale[i]
		phase += w.gain[i][0] * e
		slope += w.gain[i][1] * e
	}
	return out
}

// basis holds orthonormal columns.
type basis struct {
	cols [][]float64
	logs float64 // of the squares of what was left of each column
}

// add takes another column; it is changed.
func (b *basis) add(v []float64) {
	b.off(v)
	b.off(v) // once more: rounding
	if q := floats.Norm(v, 2); q > 0 {
		b.logs += 2 * math.Log(q)
		floats.Scale(1/q, v)
	}
	b.cols = append(b.cols, v)
}

// off takes the part along the columns off v.
func (b *basis) off(v []float64) {
	for _, c := range b.cols {
		floats.AddScaled(v, -floats.Dot(c, v), c)
	}
}
