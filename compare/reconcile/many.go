package reconcile

import (
	"context"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// Many judges many boards of one design, which share what their times alone do not change. Several goroutines may use it at
// once.
type Many struct {
	design    *fit.Design
	predicted *predict.Result
	shared    *question.Shared
}

// NewMany begins with a design. It fails as predict.Run does.
func NewMany(d *fit.Design) (*Many, error) {
	p, err := predict.Run(d)
	return &Many{design: d, predicted: p, shared: question.NewShared(d)}, err
}

// Brief is Run for one board: it leaves out the groups and the next readings, which a lot does not print. It stops with its
// context.
func (m *Many) Brief(ctx context.Context, ms []*fit.Measurement) (*compare.Finding, error) {
	f, _, err := solve(m.design, question.Observed(ms), asked{ctx: ctx, brief: true, predicted: m.predicted, shared: m.shared})
	return f, err
}
