package reconcile

import (
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/fit/posterior"
)

// suggestions is how many next readings a finding lists.
const suggestions = 3

// solved is a question with its back-solve.
type solved struct {
	question.Question
	result  *posterior.Result
	samples [][]*posterior.Sample // the result's by case; nil: not sorted yet
}

// explanations names, for each case, the explanation it belongs to.
func (s *solved) explanations() []string {
	e := make([]string, len(s.Cases))
	for i := range s.Cases {
		e[i] = cause.Key(s.Cases[i].Cause, s.Cases[i].Parts)
	}
	return e
}

// loosen lets the samples of a likeliest explanation that lies in no part's value also hold boards with one more part out of its
// tolerance, as often as odds and times say: the hypotheses leave such pairs out, as rare, and would state of each part not
// named that it is in tolerance for sure. What the causes' probabilities are stays as it is.
func (s *solved) loosen(top *compare.Cause) error {
	if top.Probability < 0.5 {
		return nil
	}
	var members []int
	for i := range s.Cases {
		if s.Cases[i].Cause == top.Cause && slices.Equal(s.Cases[i].Parts, top.Parts) {
			members = append(members, i)
		}
	}
	var wider []cause.Case
	var of []int // the members that they are beside
	for _, i := range members {
		k := &s.Cases[i]
		if k.Cause == cause.Unexplained || len(k.Shifts) > 0 && k.Override == nil || k.Cause == cause.Nothing {
			return nil // whose pairs are hypotheses of their own
		}
		for _, c := range append([]cause.Case{*k}, s.Board.Beside(k)...) {
			wider, of = append(wider, c), append(of, i)
		}
	}
	hypotheses := question.Hypotheses(wider)
	for k, i := range of {
		if k == 0 || of[k-1] != i { // the member itself
			hypotheses[k].Known = &s.result.Outcomes[i]
		}
	}
	r, err := posterior.Run(s.Problem, hypotheses)
	if err != nil || r.Status.Impossible {
		return err
	}
	s.samples = nil                     // those by case are of the old ones
	own := map[int][]posterior.Sample{} // of the members
	s.result.Samples = slices.DeleteFunc(s.result.Samples, func(q posterior.Sample) bool {
		member := slices.Contains(members, q.Hypothesis)
		if member {
			own[q.Hypothesis] = append(own[q.Hypothesis], q)
		}
		return member
	})
	add := func(q posterior.Sample, member int, share float64) {
		q.Hypothesis, q.Weight = member, q.Weight*share
		s.result.Samples = append(s.result.Samples, q)
	}
	for k, h := range hypotheses {
		if h.Known != nil {
			for _, q := range own[of[k]] {
				add(q, of[k], r.Outcomes[k].Probability*top.Probability/h.Known.Probability)
			}
		}
	}
	for _, q := range r.Samples {
		add(q, of[q.Hypothesis], top.Probability)
	}
	return nil
}

// bench is what readings are taken of.
func (s *solved) bench() *nextreading.Bench {
	return &nextreading.Bench{Circuit: s.Board.Circuit, Parts: s.Board.Parts, Typical: s.Problem.Base, Cases: s.Cases, Board: s.Board}
}
