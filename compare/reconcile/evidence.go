package reconcile

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/fit/posterior"
)

// Evidence is what a Finding was read off: pictures need it, the Finding's readers do not.
type Evidence struct {
	Board   *cause.Board
	Problem *posterior.Problem
	Cases   []cause.Case      // every hypothesis compared
	Result  *posterior.Result // one outcome a case, and the weighted samples of the parts
}

// Expectation is what a reading would show if a cause holds.
type Expectation struct {
	Cause       string
	Parts       []string
	Probability float64 // of the cause now
	Value       float64 // Hz, ohm, F or V, as the reading is
}

// Expected says what a reading would show under each cause, the likeliest first; causes for which it shows no number are left
// out.
func (e *Evidence) Expected(n *compare.Next) []Expectation {
	var out []Expectation
	places := map[string]int{}
	group := make([]int, len(e.Cases))
	for i := range e.Cases {
		c := &e.Cases[i]
		key := cause.Key(c.Cause, c.Parts)
		g, ok := places[key]
		if !ok {
			g = len(out)
			places[key] = g
			out = append(out, Expectation{Cause: c.Cause, Parts: c.Parts})
		}
		group[i] = g
		out[g].Probability += e.Result.Outcomes[i].Probability
	}
	b := &nextreading.Bench{Circuit: e.Board.Circuit, Parts: e.Board.Parts, Typical: e.Problem.Base, Cases: e.Cases}
	for g, x := range nextreading.Expected(b, e.Result, group, len(out), n) {
		out[g].Value = x
	}
	out = slices.DeleteFunc(out, func(x Expectation) bool { return math.IsNaN(x.Value) })
	slices.SortStableFunc(out, func(a, b Expectation) int { return -cmp.Compare(a.Probability, b.Probability) })
	return out
}
