package hierarchy

import (
	"errors"
	"math"
	"slices"

	"offbeat/fit"
)

// Spread is how one part scatters from board to board: the standard deviation of ln(value).
type Spread struct {
	Part       string
	Value      float64 // posterior mean
	Standard   float64 // posterior standard deviation
	Interval95 [2]float64
}

// Result is what a lot's scatter says.
type Result struct {
	High, Low      float64 // ln(lot/predicted) of the centre; Low is nought for a single pulse
	Covariance     Noise   // of the two, from the number of boards and their scatter
	Spreads        []Spread
	Outliers       []Outlier // boards left out of everything above
	ScaleReduction float64   // of the sampler; above 1.05 the spreads are not settled
	Boards         int       // used
}

// ErrNone says that there is no board with times.
var ErrNone = errors.New("no board with usable times")

// Options of a run. The zero value is the default.
type Options struct {
	Seed  uint64 // of the sampler; the same seed gives the same result to the last bit
	Rough bool   // a tenth of the sampler's points, enough for the centre
}

// Run finds centre, spreads and outliers of a lot.
func (m *Model) Run(boards []Board, opt Options) (*Result, error) {
	if len(boards) == 0 {
		return nil, ErrNone
	}
	r := &Result{Outliers: m.outliers(boards)}
	out := map[int]bool{}
	for _, o := range r.Outliers {
		out[o.Board] = true
	}
	var used []Board
	for i, b := range boards {
		if !out[i] {
			used = append(used, b)
		}
	}
	r.Boards = len(used)
	data := m.classify(used)
	runs, draws := make([][][]float64, chains), sweeps
	if opt.Rough {
		draws /= 10
	}
	for k := range runs {
		runs[k] = newSampler(m, data, opt.Seed*chains+uint64(k)).run(draws)
	}
	r.ScaleReduction = scaleReduction(runs)
	points := slices.Concat(runs...)
	for j := range m.parts {
		r.Spreads = append(r.Spreads, m.spread(points, j))
	}
	m.settle(r, data, points)
	return r, nil
}

// spread summarises part j's.
func (m *Model) spread(points [][]float64, j int) Spread {
	f := m.factors[j]
	mean, variance := moments(points, j)
	values := make([]float64, len(points))
	for i, x := range points {
		values[i] = f.scale * math.Sqrt(x[j])
	}
	slices.Sort(values)
	at := func(q float64) float64 { return values[int(q*float64(len(values)-1))] }
	return Spread{f.name, f.scale * mean, f.scale * math.Sqrt(variance), [2]float64{at(0.025), at(0.975)}}
}

// settle averages the centre over the posterior of V: the mean of its means, and its covariance by the law of
// total variance.
func (m *Model) settle(r *Result, data []class, points [][]float64) {
	n := float64(len(points))
	var mean pair
	var within, square matrix
	for _, x := range points {
		c, information := centre(data, m.covariance(x))
		mean[0] += c[0] / n
		mean[1] += c[1] / n
		within = within.plus(information.inverse().times(1 / n))
	}
	for _, x := range points {
		c, _ := centre(data, m.covariance(x))
		square = square.plus(outer(c.minus(mean)).times(1 / n))
	}
	total := within.plus(square)
	r.High, r.Low = mean[0], mean[1]
	r.Covariance = Noise{total[0], total[1], total[2]}
	if m.onePulse {
		r.Low, r.Covariance = 0, Noise{High: total[0]}
	}
}

// CentreMeasurement is the lot's centre as the measurement of one average board, for the back-solve: predicted
// times in seconds, the low one 0 for a single pulse, and the limit of the instrument's clock.
func (r *Result) CentreMeasurement(predictedHigh, predictedLow, clock float64) *fit.Measurement {
	return measurement("lot centre", r.High, r.Low, r.Covariance, predictedHigh, predictedLow, clock, r.Boards)
}
