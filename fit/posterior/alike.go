package posterior

import "offbeat/fit/circuit"

// distinct merges the hypotheses that are alike, their odds added, and says for each of all where it now stands.
func distinct(all []Hypothesis) (kept []Hypothesis, at []int) {
	type key struct {
		alike string
		base  *circuit.Values
	}
	first := map[key]int{}
	at = make([]int, len(all))
	for i, h := range all {
		k, met := first[key{h.Alike, h.Base}]
		if h.Alike == "" || !met {
			k = len(kept)
			first[key{h.Alike, h.Base}] = k
			kept = append(kept, h)
		} else {
			kept[k].Odds += h.Odds
		}
		at[i] = k
	}
	return kept, at
}

// shareOut gives each of the hypotheses that were merged its share of the outcome and of the samples, by their odds.
func (r *Result) shareOut(all, kept []Hypothesis, at []int) {
	if len(kept) == len(all) {
		return
	}
	outcomes := make([]Outcome, len(all))
	members := make([][]int, len(kept))
	share := make([]float64, len(all))
	for i, h := range all {
		k := at[i]
		if kept[k].Odds > 0 {
			share[i] = h.Odds / kept[k].Odds
		}
		outcomes[i], members[k] = r.Outcomes[k], append(members[k], i)
		outcomes[i].Probability *= share[i]
		outcomes[i].StandardError *= share[i]
	}
	samples := make([]Sample, 0, len(r.Samples))
	for _, s := range r.Samples {
		for _, i := range members[s.Hypothesis] {
			t := s
			t.Hypothesis, t.Weight = i, s.Weight*share[i]
			samples = append(samples, t)
		}
	}
	r.Outcomes, r.Samples = outcomes, samples
}
