package step

import (
	"fmt"
	"math"
)

// Observation is the value of a time (or of its logarithm) over a short while.
type Observation struct {
	Time        float64 // s
	Value       float64
	Uncertainty float64 // standard, of the white noise; same unit as Value
}

// Step is a fitted step in the unit of the values.
type Step struct {
	Value       float64
	Uncertainty float64 // standard
	Settling    float64 // s, likely time constant of the response; 0: at once
	Before      int     // observations used on either side
	After       int
}

// fewest observations on either side; two give a scatter of sorts.
const fewest = 3

const (
	walkGrid   = 12 // values of the walk's variance, none at all among them
	settleGrid = 25 // values of the settling time, none at all among them
	// prior is the weight of "none at all" in either grid; the others share the rest.
	prior = 0.5
)

// Fit fits the step at the time mark. Observations are in time order; those that straddle the mark should be
// left out. It fails where there are too few on either side.
func Fit(obs []Observation, mark float64) (Step, error) {
	var s Step
	for _, o := range obs {
		if o.Time < mark {
			s.Before++
		} else {
			s.After++
		}
	}
	if s.Before < fewest || s.After < fewest {
		return s, fmt.Errorf("%d points before the mark and %d after it; expected at least %d on either side", s.Before, s.After, fewest)
	}
	f := newFilter(obs, mark)
	var all []outcome
	best := math.Inf(-1)
	for i, tau := range f.settlings() {
		for k, q := range f.walks() {
			o := f.run(q, tau)
			o.logLikelihood += math.Log(share(i, settleGrid) * share(k, walkGrid))
			all = append(all, o)
			best = math.Max(best, o.logLikelihood)
		}
	}
	var weight, mean, square, settling float64
	for _, o := range all {
		w := math.Exp(o.logLikelihood - best)
		weight += w
		mean += w * o.step
		square += w * (o.variance + o.step*o.step)
		settling += w * o.tau
	}
	mean /= weight
	s.Value = mean * f.unit
	s.Uncertainty = math.Sqrt(math.Max(square/weight-mean*mean, 0)) * f.unit
	s.Settling = settling / weight
	return s, nil
}

// filter holds the observations in a unit of their typical uncertainty, so that nothing over- or underflows.
type filter struct {
	t, y, r []float64 // s after the mark; values; variances of the white noise
	unit    float64
	span    float64 // s, from the mark to the last observation
	gap     float64 // s, usual distance of two observations
}

func newFilter(obs []Observation, mark float64) *filter {
	f := &filter{}
	for _, o := range obs {
		f.unit += o.Uncertainty / float64(len(obs))
	}
	if f.unit == 0 {
		f.unit = math.Max(math.Abs(obs[0].Value)*1e-12, math.SmallestNonzeroFloat64)
	}
	for _, o := range obs {
		f.t = append(f.t, o.Time-mark)
		f.y = append(f.y, (o.Value-obs[0].Value)/f.unit)
		u := math.Max(o.Uncertainty/f.unit, 1e-3)
		f.r = append(f.r, u*u)
	}
	n := len(obs)
	f.span = f.t[n-1]
	f.gap = (f.t[n-1] - f.t[0]) / float64(n-1)
	return f
}

// settlings are the time constants tried: at once, and from a third of a gap to a third of the time since the
// mark. A response slower than that would have to be guessed beyond its end.
func (f *filter) settlings() []float64 {
	return geometric(f.gap/3, math.Max(f.span/3, f.gap), settleGrid)
}

// walks are the variances of the walk tried, per second: none, and from one that adds a thousandth of the
// white variance between neighbours to a thousand times it.
func (f *filter) walks() []float64 { return geometric(1e-3/f.gap, 1e3/f.gap, walkGrid) }

// share is the prior weight of value i of a grid of n.
func share(i, n int) float64 {
	if i == 0 {
		return prior
	}
	return (1 - prior) / float64(n-1)
}

// geometric is 0 and n-1 values from a to b in equal ratios.
func geometric(a, b float64, n int) []float64 {
	g := make([]float64, n)
	for i := 1; i < n; i++ {
		g[i] = a * math.Pow(b/a, float64(i-1)/float64(n-2))
	}
	return g
}

// outcome is the step under one walk and one settling time.
type outcome struct {
	step, variance float64
	tau            float64
	logLikelihood  float64 // restricted: the start level and the step integrated out
}

// run is the Kalman filter of the local level with the response as a regressor (augmented by one column,
// de Jong, The diffuse Kalman filter, Annals of Statistics 19, 1991, 1073-1083).
func (f *filter) run(walk, tau float64) outcome {
	level, slope := f.y[0], f.response(0, tau) // filtered value and filtered regressor
	p := f.r[0]
	var logF, syy, sxy, sxx float64
	for i := 1; i < len(f.y); i++ {
		p += walk * (f.t[i] - f.t[i-1])
		v := p + f.r[i]
		ey, ex := f.y[i]-level, f.response(i, tau)-slope
		logF += math.Log(v)
		syy += ey * ey / v
		sxy += ex * ey / v
		sxx += ex * ex / v
		k := p / v
		level += k * ey
		slope += k * ex
		p *= 1 - k
	}
	step := sxy / sxx
	// The prior is flat in what the step has done by the last observation.
	done := f.response(len(f.y)-1, tau)
	return outcome{step, 1 / sxx, tau, -0.5 * (logF + syy - step*sxy + math.Log(sxx/(done*done)))}
}

// response is how much of the step shows at observation i.
func (f *filter) response(i int, tau float64) float64 {
	switch {
	case f.t[i] < 0:
		return 0
	case tau == 0:
		return 1
	}
	return 1 - math.Exp(-f.t[i]/tau)
}
