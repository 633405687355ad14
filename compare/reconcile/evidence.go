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

// Explanations numbers the explanation of each case, in the order in which they come, and gives the first case of each.
func (e *Evidence) Explanations() (of, first []int) { return explanations(e.Cases) }

func explanations(cases []cause.Case) (of, first []int) {
	places := map[string]int{}
	for i := range cases {
		key := cause.Key(cases[i].Cause, cases[i].Parts)
		g, ok := places[key]
		if !ok {
			g = len(first)
			places[key], first = g, append(first, i)
		}
		of = append(of, g)
	}
	return of, first
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
	group, first := e.Explanations()
	for _, i := range first {
		out = append(out, Expectation{Cause: e.Cases[i].Cause, Parts: e.Cases[i].Parts})
	}
	for i, g := range group {
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

// Outcome is an outcome of a look, and the likeliest cause once it was seen.
type Outcome struct {
	Word        string  // as it is entered
	Probability float64 // of the outcome
	Cause       string
	Parts       []string
	Then        float64 // probability of that cause then
}

// Outcomes says what each outcome of a look would leave, by Bayes' rule; none where the reading is no look.
func (e *Evidence) Outcomes(n *compare.Next) []Outcome {
	at := slices.IndexFunc(cause.Looks, func(l cause.Look) bool { return n.Kind == nextreading.Look && l.Text(n.Part) == n.Reading })
	if at < 0 {
		return nil
	}
	l := &cause.Looks[at]
	out := []Outcome{{Word: l.Found}, {Word: l.Sound}}
	for o := range out {
		left := map[string]float64{}
		for i := range e.Cases {
			c := &e.Cases[i]
			p := e.Board.Finds(l, n.Part, c)
			if o == 1 {
				p = 1 - p
			}
			p *= e.Result.Outcomes[i].Probability
			out[o].Probability += p
			key := cause.Key(c.Cause, c.Parts)
			if left[key] += p; left[key] > out[o].Then {
				out[o].Cause, out[o].Parts, out[o].Then = c.Cause, c.Parts, left[key]
			}
		}
		if out[o].Probability > 0 {
			out[o].Then /= out[o].Probability
		}
	}
	return out
}
