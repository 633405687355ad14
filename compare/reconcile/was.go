package reconcile

import (
	"context"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

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
