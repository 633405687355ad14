package hierarchy

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Sizes of the runs.
const (
	chains = 4
	burn   = 100
	sweeps = 1000
)

// maxSteps bounds how far a slice's bracket grows, in widths, on both sides together.
const maxSteps = 60

// sampler draws the factors' variances x from their posterior by slice sampling (Neal 2003) along lines. V is
// linear in x, so on lines of the null space of x -> V the likelihood is flat: what can't be told apart mixes
// however sharp the data are.
type sampler struct {
	model *Model
	data  []class
	row   [][]float64 // directions that move V
	null  [][]float64 // directions that leave it
	rand  *rand.Rand
}

func newSampler(m *Model, data []class, seed uint64) *sampler {
	s := &sampler{model: m, data: data, rand: rand.New(rand.NewPCG(seed, 0x0ff))}
	n := len(m.factors)
	a := mat.NewDense(3, n, nil)
	for j, f := range m.factors {
		a.SetCol(j, f.square[:])
	}
	var d mat.SVD
	if !d.Factorize(a, mat.SVDFull) {
		return s // coordinates alone then; slower, still right
	}
	var v mat.Dense
	d.VTo(&v)
	values := d.Values(nil)
	for j := range n {
		direction := mat.Col(nil, j, &v)
		if j < len(values) && values[j] > 1e-12*values[0] {
			s.row = append(s.row, direction)
		} else {
			s.null = append(s.null, direction)
		}
	}
	return s
}

// run returns the kept points of one chain.
func (s *sampler) run(draws int) [][]float64 {
	n := len(s.model.factors)
	x := make([]float64, n)
	for j := range x {
		x[j] = 0.05 + s.rand.Float64()
	}
	out := make([][]float64, 0, draws)
	d := make([]float64, n)
	for k := range burn + draws {
		for j := range n {
			s.stretch(x, j)
		}
		for _, r := range s.row {
			s.move(x, r, s.log)
		}
		for range s.null {
			clear(d)
			for _, v := range s.null {
				floats.AddScaled(d, s.rand.NormFloat64(), v)
			}
			s.move(x, d, s.logPrior) // V stays, and the likelihood with it
		}
		if k >= burn {
			out = append(out, append([]float64(nil), x...))
		}
	}
	return out
}

func (s *sampler) log(x []float64) float64 {
	return logLikelihood(s.data, s.model.covariance(x)) + s.logPrior(x)
}

func (s *sampler) logPrior(x []float64) (l float64) {
	for j := range s.model.factors {
		l += s.model.factors[j].logPrior(x[j])
	}
	return l
}

// move draws a new point of the density whose logarithm is log, on the line through x along d, inside x > 0.
func (s *sampler) move(x, d []float64, log func(x []float64) float64) {
	from, to := math.Inf(-1), math.Inf(1)
	for j, g := range d {
		if g > 0 {
			from = max(from, -x[j]/g)
		} else if g < 0 {
			to = min(to, -x[j]/g)
		}
	}
	start := append([]float64(nil), x...)
	s.slice(from, to, 1, func(t float64) float64 {
		for j := range x {
			x[j] = start[j] + t*d[j]
			if !(x[j] > 0) {
				return math.Inf(-1)
			}
		}
		return log(x)
	})
}

// stretch draws a new factor for one variance: steps in its logarithm reach the small ones.
func (s *sampler) stretch(x []float64, j int) {
	start, f := x[j], &s.model.factors[j]
	x[j] = 0
	others := s.model.covariance(x)
	s.slice(-700, 700, 2, func(t float64) float64 {
		x[j] = start * math.Exp(t)
		return logLikelihood(s.data, others.plus(f.square.times(x[j]))) + f.logPrior(x[j]) + t // the logarithm's density
	})
}

// slice draws t from the density whose logarithm is f, coming from t = 0: a bracket of the width is laid about
// it at random and grows by steps until both ends are outside the slice, then shrinks on each point that is
// (Neal 2003, figures 3 and 5). The last call of f is at the point drawn.
func (s *sampler) slice(from, to, width float64, f func(float64) float64) {
	level := f(0) - s.rand.ExpFloat64()
	low := -width * s.rand.Float64()
	high := low + width
	left := s.rand.IntN(maxSteps)
	for k := left; k > 0 && low > from && f(low) > level; k-- {
		low -= width
	}
	for k := maxSteps - 1 - left; k > 0 && high < to && f(high) > level; k-- {
		high += width
	}
	low, high = max(low, from), min(high, to)
	for range 200 {
		t := low + (high-low)*s.rand.Float64()
		if f(t) >= level {
			return
		}
		if t < 0 {
			low = t
		} else {
			high = t
		}
	}
	f(0)
}

// scaleReduction is the largest split potential scale reduction over the factors (Gelman and Rubin 1992, split
// as in Gelman et al., Bayesian Data Analysis 3rd ed. 11.4), of the spreads.
func scaleReduction(runs [][][]float64) float64 {
	worst := 1.0
	half := len(runs[0]) / 2
	for j := range runs[0][0] {
		var means, variances []float64
		for _, r := range runs {
			for _, part := range [2][][]float64{r[:half], r[half:]} {
				m, v := moments(part, j)
				means, variances = append(means, m), append(variances, v)
			}
		}
		if within := stat.Mean(variances, nil); within > 0 {
			worst = max(worst, math.Sqrt(1-1/float64(half)+stat.Variance(means, nil)/within))
		}
	}
	return worst
}

// moments of the spread of factor j, in units of its scale.
func moments(points [][]float64, j int) (mean, variance float64) {
	n := float64(len(points))
	for _, x := range points {
		mean += math.Sqrt(x[j]) / n
	}
	for _, x := range points {
		d := math.Sqrt(x[j]) - mean
		variance += d * d / (n - 1)
	}
	return mean, variance
}
