package reconcile

import (
	"cmp"
	"slices"

	"offbeat/compare"
	"offbeat/fit/posterior"
)

// weighted is one sample's number and its weight.
type weighted struct{ x, w float64 }

// quantileBins are the equal parts of the points' range of which only those are sorted that hold a quantile.
const quantileBins = 256

// quantiles are the places below which the fractions of the points' weight lie.
func quantiles(points []weighted, fractions ...float64) []float64 {
	total, wanted := 0.0, make([]float64, len(fractions))
	for _, p := range points {
		total += p.w
	}
	for k, f := range fractions {
		wanted[k] = f * total * (1 - 1e-12)
	}
	return below(points, wanted)
}

// below are the places below which so much weight of the points lies.
func below(points []weighted, wanted []float64) []float64 {
	low, high := points[0].x, points[0].x
	for _, p := range points {
		low, high = min(low, p.x), max(high, p.x)
	}
	scale := 0.0
	if high > low {
		scale = quantileBins / (high - low)
	}
	bin := func(x float64) int { return max(min(int((x-low)*scale), quantileBins-1), 0) }
	var weight [quantileBins]float64
	for _, p := range points {
		weight[bin(p.x)] += p.w
	}
	out := make([]float64, len(wanted))
	var within []weighted
	for k, left := range wanted {
		at := 0
		for ; at < quantileBins-1 && weight[at] < left; at++ {
			left -= weight[at]
		}
		within = within[:0]
		for _, p := range points {
			if bin(p.x) == at {
				within = append(within, p)
			}
		}
		if len(within) > quantileBins && len(within) < len(points) { // far from a few that lie far out
			out[k] = below(within, []float64{left})[0]
			continue
		}
		slices.SortFunc(within, func(a, b weighted) int { return cmp.Compare(a.x, b.x) })
		out[k] = high
		for _, p := range within {
			if left -= p.w; left <= 0 {
				out[k] = p.x
				break
			}
		}
	}
	return out
}

// parts summarises each part over the whole mixture of causes.
func (s *solved) parts() []compare.Part {
	out := make([]compare.Part, 0, len(s.Board.Parts))
	points := make([]weighted, len(s.result.Samples))
	for i, p := range s.Board.Parts {
		q := compare.Part{Name: p.Name, Unit: p.Kind.Unit().InJSON(), Nominal: p.Nominal, Tolerance: max(p.Minus, p.Plus), Limits: [2]float64{p.Low(), p.High()}}
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

// parameter is the weighted median of what a cause is about, over the samples of the given cases; false where there are none.
func (s *solved) parameter(members []int, of func(*posterior.Sample) float64) (float64, bool) {
	if s.samples == nil {
		s.samples = make([][]*posterior.Sample, len(s.Cases))
		for k := range s.result.Samples {
			q := &s.result.Samples[k]
			s.samples[q.Hypothesis] = append(s.samples[q.Hypothesis], q)
		}
	}
	n := 0
	for _, i := range members {
		n += len(s.samples[i])
	}
	points := make([]weighted, 0, n)
	for _, i := range members {
		for _, q := range s.samples[i] {
			points = append(points, weighted{of(q), q.Weight})
		}
	}
	if len(points) == 0 {
		return 0, false
	}
	return quantiles(points, 0.5)[0], true
}
