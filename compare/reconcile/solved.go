package reconcile

import (
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
	result *posterior.Result
}

// explanations names, for each case, the explanation it belongs to.
func (s *solved) explanations() []string {
	e := make([]string, len(s.Cases))
	for i := range s.Cases {
		e[i] = cause.Key(s.Cases[i].Cause, s.Cases[i].Parts)
	}
	return e
}

// bench is what readings are taken of.
func (s *solved) bench() *nextreading.Bench {
	return &nextreading.Bench{Circuit: s.Board.Circuit, Parts: s.Board.Parts, Typical: s.Problem.Base, Cases: s.Cases, Board: s.Board}
}
