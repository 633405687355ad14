package plane

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile"
)

// Fit is how well one cause, with what it makes of the parts, predicts the times of every capture.
type Fit struct {
	Name        string
	Number      int // as in Numbers; 0: none
	Probability float64
	Misses      []Miss // one a time, in the order of Timed
}

// Miss is by how much a prediction lies above a measured time, in standard uncertainties of the measurement: the median over the
// cause's boards and the range of 95 % of them.
type Miss struct{ Median, Low, High float64 }

// Timed is one measured time.
type Timed struct {
	Capture     int     // from 0
	Low         bool    // its low time
	Uncertainty float64 // standard, relative
}

// leastFit is the probability from which a cause is shown, against that of all that predict anything.
const leastFit = 0.01

// FitsOf predicts every capture under each of the likeliest causes, most of them at most; an earlier visit is no capture, and
// what is unexplained predicts nothing: where that leads, the others show what does not fit.
func FitsOf(f *compare.Finding, e *reconcile.Evidence, most int) (times []Timed, fits []Fit) {
	for i, d := range e.Problem.Data {
		if d.Settled {
			continue
		}
		times = append(times, Timed{Capture: i, Uncertainty: math.Sqrt(d.High)})
		if !d.OnePulse {
			times = append(times, Timed{Capture: i, Low: true, Uncertainty: math.Sqrt(d.Low)})
		}
	}
	numbers, all := Numbers(e.Board.Cases()), 0.0
	for _, c := range f.Causes {
		if c.Cause != cause.Unexplained {
			all += c.Probability
		}
	}
	for _, c := range f.Causes {
		if c.Probability < leastFit*all || len(fits) == most || c.Cause == cause.Unexplained {
			continue
		}
		if misses := missesOf(cause.Key(c.Cause, c.Parts), e, times); misses != nil {
			fits = append(fits, Fit{cause.Title(c.Cause, c.Parts), numbers[cause.Curve(c.Cause, c.Parts)], c.Probability, misses})
		}
	}
	return times, fits
}

// missesOf runs a cause's boards through each capture; nil where it has none.
func missesOf(key string, e *reconcile.Evidence, times []Timed) []Miss {
	misses := make([][]weighted, len(times))
	for i := range e.Result.Samples {
		s := &e.Result.Samples[i]
		k := &e.Cases[s.Hypothesis]
		if s.Weight == 0 || k.Unexplained || cause.Key(k.Cause, k.Parts) != key {
			continue
		}
		for j, t := range times {
			d, v := &e.Problem.Data[t.Capture], s.Values
			if d.Adjust != nil {
				d.Adjust(&v, s.Extra)
			}
			high, low, ok := k.Times(e.Problem.Circuit, &v)
			if !ok {
				continue
			}
			x, measured := math.Log(high), d.LnHigh
			if t.Low {
				x, measured = math.Log(low), d.LnLow
			}
			misses[j] = append(misses[j], weighted{(x - measured) / t.Uncertainty, s.Weight})
		}
	}
	out := make([]Miss, len(times))
	for j, m := range misses {
		if len(m) == 0 {
			return nil
		}
		slices.SortFunc(m, func(a, b weighted) int { return cmp.Compare(a.x, b.x) })
		out[j] = Miss{quantile(m, 0.5), quantile(m, 0.025), quantile(m, 0.975)}
	}
	return out
}

type weighted struct{ x, weight float64 }

// quantile of values in order.
func quantile(m []weighted, p float64) float64 {
	sum, at := 0.0, 0.0
	for _, w := range m {
		sum += w.weight
	}
	for _, w := range m {
		if at += w.weight; at >= p*sum {
			return w.x
		}
	}
	return m[len(m)-1].x
}
