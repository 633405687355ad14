package question

import (
	"slices"

	"offbeat/compare/cause"
	"offbeat/fit/posterior"
)

// suited counts each case once for every family of timer that may be fitted, where the design does not say which: the
// odds are shared out by the families' prior weights, and each has the second-order terms of its own.
func suited(b *cause.Board, p *posterior.Problem, cases []cause.Case) ([]cause.Case, error) {
	if !b.Design.AnyFamily {
		return cases, nil
	}
	own, err := beliefs(b, b.Design)
	if err != nil {
		return nil, err
	}
	var out []cause.Case
	for _, suit := range b.Circuit.Suits {
		d := *b.Design
		d.Family = suit.Family
		base, err := b.Circuit.Typical(&d)
		if err != nil {
			return nil, err
		}
		nuisance, err := beliefs(b, &d)
		if err != nil {
			return nil, err
		}
		nuisance = slices.Concat(nuisance, p.Nuisance[len(own):])
		for _, k := range cases {
			k.Family = suit.Family
			k.Odds *= suit.Weight
			k.Hypothesis.Odds = k.Odds
			k.Hypothesis.Base, k.Hypothesis.Nuisance = &base, nuisance
			out = append(out, k)
		}
	}
	return out, nil
}
