package reconcile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
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

// families says what follows for each family of timer that may be fitted, the likelier first; nil: the design says which.
func (s *solved) families() []compare.Family {
	var out []compare.Family
	for _, suit := range s.board.Circuit.Suits {
		f := compare.Family{Family: suit.Family}
		share := map[string]float64{}
		for i, k := range s.cases {
			if k.Family != suit.Family {
				continue
			}
			key, p := cause.Key(k.Cause, k.Parts), s.result.Outcomes[i].Probability
			f.Probability += p
			if share[key] += p; share[key] > f.Of {
				f.Cause, f.Parts, f.Of = k.Cause, append([]string{}, k.Parts...), share[key]
			}
		}
		if f.Probability > 0 {
			f.Of /= f.Probability
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b compare.Family) int { return cmp.Compare(b.Probability, a.Probability) })
	return out
}

// familyText says which reading belongs to which family, where they differ.
func familyText(all []compare.Family) string {
	var out []string
	differ := false
	for _, f := range all {
		if f.Probability < 0.005 {
			continue
		}
		differ = differ || cause.Key(f.Cause, f.Parts) != cause.Key(all[0].Cause, all[0].Parts)
		out = append(out, fmt.Sprintf("if the timer is %s (%s): %s (%s)", f.Family, quantity.Probability(f.Probability), cause.Title(f.Cause, f.Parts), quantity.Probability(f.Of)))
	}
	if !differ {
		return ""
	}
	return "The design does not say the timer's family: " + strings.Join(out, "; ") + "."
}
