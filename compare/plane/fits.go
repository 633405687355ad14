package plane

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/compare/cause"
	"offbeat/compare/reconcile"
	"offbeat/fit/posterior"
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
// what is unexplained predicts nothing. Where no other cause can make all captures, each predicts them from the first one:
// alone is then true, and the probabilities are by that capture.
func FitsOf(e *reconcile.Evidence, most int) (times []Timed, fits []Fit, alone bool) {
	settled := false
	for i, d := range e.Problem.Data {
		if settled = settled || d.Settled; d.Settled {
			continue
		}
		times = append(times, Timed{Capture: i, Uncertainty: math.Sqrt(d.High)})
		if !d.OnePulse {
			times = append(times, Timed{Capture: i, Low: true, Uncertainty: math.Sqrt(d.Low)})
		}
	}
	fits = fitsOf(e, times, most)
	if len(fits) > 0 || settled || len(e.Problem.Data) < 2 {
		return times, fits, false
	}
	p := *e.Problem
	p.Data = p.Data[:1]
	p.Facts = slices.DeleteFunc(slices.Clone(p.Facts), func(f posterior.Fact) bool { return f.Under > 1 })
	h := make([]posterior.Hypothesis, len(e.Cases))
	for i := range h {
		h[i] = e.Cases[i].Hypothesis
	}
	r, err := posterior.Run(&p, h)
	if err != nil {
		return times, nil, false
	}
	first := *e
	first.Result = r
	return times, fitsOf(&first, times, most), true
}

// fitsOf takes the likeliest of the causes that predict anything.
func fitsOf(e *reconcile.Evidence, times []Timed, most int) (fits []Fit) {
	numbers, all := Numbers(e.Board.Cases()), 0.0
	at := map[string]int{}
	var keys []string
	for i := range e.Cases {
		k := &e.Cases[i]
		if k.Unexplained {
			continue
		}
		key := cause.Key(k.Cause, k.Parts)
		if _, ok := at[key]; !ok {
			at[key] = len(fits)
			keys, fits = append(keys, key), append(fits, Fit{Name: cause.Title(k.Cause, k.Parts), Number: numbers[cause.Curve(k.Cause, k.Parts)]})
		}
		fits[at[key]].Probability += e.Result.Outcomes[i].Probability
		all += e.Result.Outcomes[i].Probability
	}
	for i := range fits {
		if fits[i].Probability >= leastFit*all {
			fits[i].Misses = missesOf(keys[i], e, times)
		}
	}
	fits = slices.DeleteFunc(fits, func(f Fit) bool { return f.Misses == nil })
	slices.SortStableFunc(fits, func(a, b Fit) int { return -cmp.Compare(a.Probability, b.Probability) })
	return fits[:min(len(fits), most)]
}

// missesOf runs a cause's boards through each capture; nil where it has none.
func missesOf(key string, e *reconcile.Evidence, times []Timed) []Miss {
	misses, weights := make([][]float64, len(times)), make([][]float64, len(times))
	of := make([]bool, len(e.Cases))
	for i := range of {
		k := &e.Cases[i]
		of[i] = !k.Unexplained && cause.Key(k.Cause, k.Parts) == key
	}
	for i := range e.Result.Samples {
		s := &e.Result.Samples[i]
		if s.Weight == 0 || !of[s.Hypothesis] {
			continue
		}
		var high, low float64
		var ok bool
		for j, t := range times {
			d := &e.Problem.Data[t.Capture]
			if !t.Low { // of each capture it comes first
				v := *s.Values
				if d.Adjust != nil {
					d.Adjust(&v, s.Extra)
				}
				high, low, ok = e.Cases[s.Hypothesis].Times(e.Problem.Circuit, &v)
			}
			if !ok {
				continue
			}
			x, measured := math.Log(high), d.LnHigh
			if t.Low {
				x, measured = math.Log(low), d.LnLow
			}
			misses[j], weights[j] = append(misses[j], (x-measured)/t.Uncertainty), append(weights[j], s.Weight)
		}
	}
	out := make([]Miss, len(times))
	for j, m := range misses {
		if len(m) == 0 {
			return nil
		}
		stat.SortWeighted(m, weights[j])
		at := func(p float64) float64 { return stat.Quantile(p, stat.Empirical, m, weights[j]) }
		out[j] = Miss{at(0.5), at(0.025), at(0.975)}
	}
	return out
}
