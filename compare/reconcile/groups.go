package reconcile

import (
	"math"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// groups are the products and ratios that the times pin down with no assumption about the parts: the parts
// that the circuit is solved for may be anything, the others stand at nominal (only the group matters), and
// the timer's terms, the clock and the noise run over their priors. Captures under conditions of their own tell more
// than groups, and are left out.
func groups(all *posterior.Problem, set []question.Setting, b *cause.Board) ([]compare.Group, error) {
	p := *all
	p.Data, p.Facts = nil, nil
	for i := range set {
		if set[i].Plain() {
			p.Data = append(p.Data, all.Data[i])
		}
	}
	if len(p.Data) == 0 {
		return []compare.Group{}, nil
	}
	h := posterior.Hypothesis{Odds: 1}
	open := map[int]bool{}
	of, first := b.Circuit.Groups()
	for _, i := range first {
		open[i] = true
	}
	for i, part := range b.Parts {
		x := math.Log(part.Nominal)
		reach := 1e-9
		if open[i] {
			reach = math.Log(1e4)
		}
		h.Prior = append(h.Prior, posterior.Uniform(x-reach, x+reach))
	}
	r, err := posterior.Run(&p, []posterior.Hypothesis{h})
	if err != nil || r.Status.Impossible {
		return []compare.Group{}, err
	}
	var nominal circuit.Values
	for i, part := range b.Parts {
		nominal[i] = part.Nominal
	}
	out := make([]compare.Group, 0, len(of))
	for _, g := range of {
		mean, variance := 0.0, 0.0
		for i := range r.Samples {
			mean += r.Samples[i].Weight * g.Of(r.Samples[i].Values)
		}
		for i := range r.Samples {
			d := g.Of(r.Samples[i].Values) - mean
			variance += r.Samples[i].Weight * d * d
		}
		out = append(out, compare.Group{Group: g.Name, Nominal: g.Of(&nominal), Value: mean, Uncertainty: math.Sqrt(variance), Unit: g.Unit, Near: g.Near})
	}
	return out, nil
}
