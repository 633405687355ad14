package waveform

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/measure"
)

// Charge is one exponential run: a capacitor's charge or discharge by itself.
type Charge struct {
	Tau          fit.Estimate // s, by the instrument's clock
	Final, Start fit.Estimate // V, where it is heading and where it begins
	Begin        float64      // s, on the capture's axis
	Residual     float64      // V, standard deviation about the fitted run
}

// ErrBend is returned for a record that does not bend as one exponential run does.
var ErrBend = errors.New("the record does not bend like the charge of a capacitor through a resistor")

const (
	leastCharge = 24   // points of a run
	endless     = 8.0  // records, that the time constant is long at most: beyond, the run is all but straight
	astray      = 0.02 // of the swing, that the points may lie about the run beside their noise
)

// FitCharge fits one exponential run to a record without pulses, from where it is steepest on: what is flat before that is no part of it.
// clock is the relative limit of the instrument's clock.
func FitCharge(c *measure.Curve, clock float64) (*Charge, error) {
	n := len(c.Volt)
	if n < leastCharge {
		return nil, ErrBend
	}
	// The steepest place, between the means of neighbouring stretches.
	w := max(n/60, 1)
	sum := make([]float64, n+1)
	for i, v := range c.Volt {
		sum[i+1] = sum[i] + v
	}
	at, steep := 0, 0.0
	for i := w; i+w <= n; i++ {
		if d := math.Abs(sum[i+w] - 2*sum[i] + sum[i-w]); d > steep {
			at, steep = i, d
		}
	}
	if at > w {
		at += w // the bend at its beginning
	} else {
		at = 0
	}
	if whole := math.Abs(c.Volt[n-1] - c.Volt[0]); n-at < max(leastCharge, n/4) || math.Abs(c.Volt[n-1]-c.Volt[at]) < whole/2 || !(c.Time[n-1] > c.Time[at]) {
		return nil, ErrBend
	}
	s := segment{v: slices.Clone(c.Volt[at:])}
	for _, t := range c.Time[at:] {
		s.t, s.n = append(s.t, t-c.Time[at]), append(s.n, 1)
	}
	r, err := fitRuns([]segment{s})
	if err != nil {
		return nil, ErrBend
	}
	end, amplitude, tau := r.p[0], r.p[1], r.p[2]
	residual := math.Sqrt(r.square / r.freedom)
	r.stairs(s)
	rough := 0.0
	for i := 1; i < len(s.v); i++ {
		d := s.v[i] - s.v[i-1]
		rough += d * d / float64(2*len(s.v))
	}
	span := s.t[len(s.t)-1]
	swing := math.Abs(s.v[len(s.v)-1] - s.v[0])
	if !(tau > 0) || tau > endless*span || tau < 2*span/float64(len(s.t)) || residual > 1.5*math.Sqrt(rough)+astray*swing {
		return nil, ErrBend
	}
	u := func(v float64) float64 { return math.Sqrt(max(v, 0)) }
	count := len(s.v)
	out := &Charge{Begin: c.Time[at], Residual: residual,
		Tau:   fit.Estimate{Value: tau, Uncertainty: math.Hypot(u(r.covariance[2][2]), tau*clock/math.Sqrt(3)), Count: count},
		Final: fit.Estimate{Value: end, Uncertainty: u(r.covariance[0][0]), Count: count},
		Start: fit.Estimate{Value: end + amplitude, Uncertainty: u(r.covariance[0][0] + r.covariance[1][1] + 2*r.covariance[0][1]), Count: count}}
	return out, nil
}

// stairs adds what rounding to codes does that more samples do not average out. With noise of standard deviation σ the
// mean of codes q apart lies off the voltage v by a sum of waves -(-1)^h q/(πh) exp(-2π²h²σ²/q²) sin(2πhv/q) (Widrow and
// Kollár, Quantization Noise, 2008, from memory); where v lies among the codes is unknown, so each wave counts with every phase.
func (r *runs) stairs(s segment) {
	sorted := slices.Clone(s.v)
	slices.Sort(sorted)
	whole := sorted[len(sorted)-1] - sorted[0]
	q := whole
	for i := 1; i < len(sorted); i++ {
		if d := sorted[i] - sorted[i-1]; d > 1e-9*whole {
			q = min(q, d)
		}
	}
	variance := r.square / r.freedom
	noise := max(variance/(q*q)-1.0/12, 0) // σ²/q²
	shape := mat.NewSymDense(3, slices.Concat(r.covariance...))
	for h := 1.0; h < 4; h++ {
		var wave [2][]float64
		for i := range wave {
			wave[i] = make([]float64, 3)
		}
		for _, t := range s.t {
			e := math.Exp(-t / r.p[2])
			sin, cos := math.Sincos(2 * math.Pi * h * (r.p[0] + r.p[1]*e) / q)
			for k, slope := range [3]float64{1, e, r.p[1] * e * t / (r.p[2] * r.p[2])} {
				wave[0][k] += sin * slope
				wave[1][k] += cos * slope
			}
		}
		for _, w := range wave {
			var off mat.VecDense
			off.MulVec(shape, mat.NewVecDense(3, w))
			off.ScaleVec(q/(math.Pi*h*variance*math.Sqrt2)*math.Exp(-2*math.Pi*math.Pi*h*h*noise), &off)
			for i := range 3 {
				for k := range 3 {
					r.covariance[i][k] += off.AtVec(i) * off.AtVec(k)
				}
			}
		}
	}
}
