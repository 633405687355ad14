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

// Earlier is a step at an earlier mark whose response may still go on; its size is fitted anew.
type Earlier struct {
	Mark, Settling float64 // s
}

// Fit fits the step at the time mark. Observations are in time order; those that straddle a mark should be left
// out. It fails where there are too few on either side; before means since the earlier mark, if one is given.
func Fit(obs []Observation, mark float64, earlier *Earlier) (Step, error) {
	var s Step
	since := math.Inf(-1)
	if earlier != nil {
		since = earlier.Mark
	}
	for _, o := range obs {
		switch {
		case o.Time >= mark:
			s.After++
		case o.Time >= since:
			s.Before++
		}
	}
	if s.Before < fewest || s.After < fewest {
		return s, fmt.Errorf("%d points before the mark and %d after it; expected at least %d on either side", s.Before, s.After, fewest)
	}
	f := newFilter(obs, mark)
	if earlier != nil {
		f.earlier = &Earlier{earlier.Mark - mark, earlier.Settling}
	}
	var all []outcome
	best := math.Inf(-1)
	for i, tau := range f.settlings() {
		f.respond(tau)
		for k, q := range f.walks() {
			o := f.run(q)
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
	span    float64   // s, from the mark to the last observation
	gap     float64   // s, usual distance of two observations
	earlier *Earlier  // its mark in seconds after the mark
	tau     float64   // s, that c is for
	c       []columns // one an observation
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

// columns are the observed value, the response at the mark, and that at the earlier mark.
type columns [3]float64

// respond sets the columns of all observations for a settling time.
func (f *filter) respond(tau float64) {
	f.tau = tau
	f.c = f.c[:0]
	for i, t := range f.t {
		c := columns{f.y[i], response(t, tau)}
		if f.earlier != nil {
			c[2] = response(t-f.earlier.Mark, f.earlier.Settling)
		}
		f.c = append(f.c, c)
	}
}

// run is the Kalman filter of the local level with the responses as regressors (augmented by a column each,
// de Jong, The diffuse Kalman filter, Annals of Statistics 19, 1991, 1073-1083).
func (f *filter) run(walk float64) outcome {
	level := f.c[0] // filtered
	p, logF, product := f.r[0], 0.0, 1.0
	var products [3]columns
	for i := 1; i < len(f.y); i++ {
		p += walk * (f.t[i] - f.t[i-1])
		v := p + f.r[i]
		e, inv := f.c[i], 1/v
		for k := range e {
			e[k] -= level[k]
			for l := range k + 1 {
				products[k][l] += e[k] * e[l] * inv
			}
		}
		if product *= v; product > 1e200 || product < 1e-200 {
			logF += math.Log(product)
			product = 1
		}
		g := p * inv
		for k := range e {
			level[k] += g * e[k]
		}
		p *= 1 - g
	}
	// The prior is flat in what the step has done by the last observation.
	done := f.c[len(f.c)-1][1]
	return solve(&products, logF+math.Log(product)-2*math.Log(done), f.tau)
}

// solve is least squares on the products of the columns: the size of the earlier step is eliminated first.
func solve(p *[3]columns, logF, tau float64) outcome {
	yy, xy, xx := p[0][0], p[1][0], p[1][1]
	if zz := p[2][2]; zz > 0 {
		zy, zx := p[2][0], p[2][1]
		yy -= zy * zy / zz
		xy -= zx * zy / zz
		xx -= zx * zx / zz
		logF += math.Log(zz)
	}
	if !(xx > 1e-12*p[1][1]) {
		return outcome{logLikelihood: math.Inf(-1)} // the two responses can't be told apart
	}
	step := xy / xx
	return outcome{step, 1 / xx, tau, -0.5 * (logF + yy - step*xy + math.Log(xx))}
}

// response is how much of a step shows t seconds after its mark.
func response(t, tau float64) float64 {
	switch {
	case t < 0:
		return 0
	case tau == 0:
		return 1
	}
	return 1 - math.Exp(-t/tau)
}
