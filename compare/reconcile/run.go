package reconcile

import (
	"context"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// Run compares a design with one or more measurements of one board. It fails where the design does not fit its
// circuit, or a measurement has no usable times.
func Run(d *fit.Design, ms []*fit.Measurement) (*compare.Finding, error) {
	f, _, err := Solve(d, ms)
	return f, err
}

// Solve is Run with the evidence behind the Finding.
func Solve(d *fit.Design, ms []*fit.Measurement) (*compare.Finding, *Evidence, error) {
	return SolveWith(d, question.Observed(ms))
}

// SolveWith is Solve for captures that were taken under conditions of their own.
func SolveWith(d *fit.Design, obs []question.Observation) (*compare.Finding, *Evidence, error) {
	return solve(d, obs, asked{})
}

// SolveUntil does what SolveWith does, or asks what has moved since an earlier Finding of the same board: its measured times
// join the new ones, and the causes are what happened between. Tolerances then blur nothing, since each part is compared with
// itself. The design's readings are taken to be of the board as it is now. It stops with its context.
func SolveUntil(ctx context.Context, d *fit.Design, obs []question.Observation, earlier *compare.Finding) (*compare.Finding, *Evidence, error) {
	return solve(d, obs, asked{ctx: ctx, earlier: earlier})
}

// solve leads to what a board is: one that stands still, one that changes inside a capture or from capture to capture, or one with steady times.
func solve(d *fit.Design, obs []question.Observation, ask asked) (*compare.Finding, *Evidence, error) {
	if len(obs) == 0 {
		if len(d.Stills) > 0 {
			return standing(d, ask)
		}
		return nil, nil, question.ErrNothing
	}
	if len(d.Was) > 0 && ask.earlier == nil && !ask.brief {
		var err error
		if ask.earlier, err = former(ask.ctx, d); err != nil {
			return nil, nil, err
		}
	}
	if at := changing(obs); at >= 0 {
		return stretched(d, obs, at, ask)
	}
	if groups, others := apart(obs); len(groups) > 1 && !ask.brief {
		return disagreeing(d, groups, others, ask)
	}
	return steady(d, obs, ask)
}

// former is the finding of the board as [was] says it to have been: nothing was read of it then.
func former(ctx context.Context, d *fit.Design) (*compare.Finding, error) {
	past := *d
	past.Was, past.Readings, past.Targets, past.History = nil, nil, nil, fit.New
	m, err := question.Formerly(d)
	if err != nil {
		return nil, err
	}
	f, _, err := steady(&past, question.Observed([]*fit.Measurement{m}), asked{brief: true, ctx: ctx})
	return f, err
}
