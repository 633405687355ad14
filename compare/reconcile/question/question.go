package question

import (
	"offbeat/compare/cause"
	"offbeat/fit/posterior"
)

// Question is a board with what was measured of it, ready to be solved.
type Question struct {
	Board   *cause.Board
	Problem *posterior.Problem
	Cases   []cause.Case
	boards  *posterior.Boards // what boards of the design share; nil: nothing
	Changed *Changed          // how the samples hold what moved since a baseline; nil: no baseline
}

// Of makes a board and what was measured of it ready to be solved.
func Of(b *cause.Board, set []Setting, facts []posterior.Fact) (*Question, error) {
	p, leaks, err := problem(b, set, facts)
	if err != nil {
		return nil, err
	}
	captured(b, set)
	cases, err := suited(b, p, b.Cases())
	return &Question{Board: b, Problem: p, Cases: still(cases, leaks)}, err
}

// Solve compares the cases.
func (q *Question) Solve() (*posterior.Result, error) {
	if q.boards != nil {
		return q.boards.Run(q.Problem)
	}
	return posterior.Run(q.Problem, Hypotheses(q.Cases))
}

// Hypotheses are those of the cases.
func Hypotheses(cases []cause.Case) []posterior.Hypothesis {
	h := make([]posterior.Hypothesis, len(cases))
	for i := range cases {
		h[i] = cases[i].Hypothesis
	}
	return h
}
