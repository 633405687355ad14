package question

import (
	"math"

	"offbeat/compare/cause"
	"offbeat/fit/circuit"
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

// Done ends the use of what Solve gave: nobody may look at its samples any more.
func (q *Question) Done(r *posterior.Result) {
	if q.boards != nil {
		q.boards.Done(r)
	}
}

// Hypotheses are those of the cases.
func Hypotheses(cases []cause.Case) []posterior.Hypothesis {
	h := make([]posterior.Hypothesis, len(cases))
	for i := range cases {
		h[i] = cases[i].Hypothesis
	}
	return h
}

// Places of the extra quantities of a problem with a baseline, n being the number of parts: each part's logarithmic
// move; the logarithm of a part newly fitted, NaN where there is none; the logarithm of the part as it was; then the
// faults as they are now, NaN where they are as they were; then what the second-order terms have gained.
type Changed struct {
	n      int
	faults []circuit.Slot // those that may differ now
	terms  []circuit.Slot // the second-order terms that warmth and damp change a little
}

func (c Changed) move(part int) int  { return part }
func (c Changed) fresh(part int) int { return c.n + part }
func (c Changed) was(part int) int   { return 2*c.n + part }
func (c Changed) fault(k int) int    { return 3*c.n + k }
func (c Changed) term(k int) int     { return 3*c.n + len(c.faults) + k }

// Factor is what a part is now over what it was.
func (c Changed) Factor(s *posterior.Sample, part int) float64 {
	return s.Values[part] / math.Exp(s.Extra[c.was(part)])
}
