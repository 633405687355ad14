package reconcile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
)

// families says what follows for each family of timer that may be fitted, the likelier first; nil: the design says which.
func (s *solved) families() []compare.Family {
	var out []compare.Family
	for _, suit := range s.Board.Circuit.Suits {
		f := compare.Family{Family: suit.Family}
		share := map[string]float64{}
		for i, k := range s.Cases {
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
