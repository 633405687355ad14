package reconcile

import (
	"slices"

	"offbeat/compare"
	"offbeat/fit/posterior"
)

// weighted is one sample's number and its weight.
type weighted struct{ x, w float64 }

// quantiles sorts the points and gives the places below which the fractions of the weight lie.
func quantiles(points []weighted, fractions ...float64) []float64 {
	slices.SortFunc(points, func(a, b weighted) int { // none is NaN: cmp.Compare would look for that
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	var total float64
	for _, p := range points {
		total += p.w
	}
	out := make([]float64, len(fractions))
	var sum float64
	k := 0
	for _, p := range points {
		sum += p.w
		for k < len(fractions) && sum >= fractions[k]*total*(1-1e-12) {
			out[k] = p.x
			k++
		}
	}
	return out
}

// parts summarises each part over the whole mixture of causes.
func (s *solved) parts() []compare.Part {
	out := make([]compare.Part, 0, len(s.Board.Parts))
	for i, p := range s.Board.Parts {
		q := compare.Part{Name: p.Name, Unit: p.Kind.Unit().InJSON(), Nominal: p.Nominal, Tolerance: max(p.Minus, p.Plus), Limits: [2]float64{p.Low(), p.High()}}
		points := make([]weighted, len(s.result.Samples))
		const slack = 1e-9 // the limits themselves are in tolerance
		for k := range s.result.Samples {
			x := s.result.Samples[k].Values[i]
			points[k] = weighted{x, s.result.Samples[k].Weight}
			if x < p.Low()*(1-slack) || x > p.High()*(1+slack) {
				q.OutOfTolerance += points[k].w
			}
		}
		if len(points) > 0 {
			v := quantiles(points, 0.025, 0.5, 0.975)
			q.Interval95, q.Value = [2]float64{v[0], v[2]}, v[1]
		}
		q.OutOfTolerance = min(q.OutOfTolerance, 1)
		q.Unsupported = s.Board.Circuit.Parts[i].Idle
		if s.Changed != nil && len(points) > 0 {
			for k := range s.result.Samples {
				points[k] = weighted{s.Changed.Factor(&s.result.Samples[k], i), s.result.Samples[k].Weight}
			}
			v := quantiles(points, 0.025, 0.5, 0.975)
			q.Change = &compare.Shift{Factor: v[1], Interval95: [2]float64{v[0], v[2]}}
		}
		out = append(out, q)
	}
	return out
}

// parameter is the weighted median of what a cause is about, over the samples of the given cases.
func (s *solved) parameter(of func(*posterior.Sample) (float64, bool)) (float64, bool) {
	var points []weighted
	for k := range s.result.Samples {
		if x, ok := of(&s.result.Samples[k]); ok {
			points = append(points, weighted{x, s.result.Samples[k].Weight})
		}
	}
	if len(points) == 0 {
		return 0, false
	}
	return quantiles(points, 0.5)[0], true
}
