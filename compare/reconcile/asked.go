package reconcile

import (
	"context"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit/posterior"
	"offbeat/fit/predict"
)

// asked is what solve is to do. The zero value is the whole of it.
type asked struct {
	ctx       context.Context  // ends it; nil: nothing does
	earlier   *compare.Finding // ask what has moved since; nil: no baseline
	brief     bool             // leave out groups, next readings and what makes the deviation
	predicted *predict.Result  // of the design; nil: not known yet
	shared    *question.Shared // by many boards of the design; nil: it is no board of many
}

// pose is question.Of, by what boards of the design share where that is possible.
func (a *asked) pose(b *cause.Board, set []question.Setting, facts []posterior.Fact) (*question.Question, error) {
	if a.shared != nil && len(facts) == 0 {
		if q, err := a.shared.Pose(b, set); q != nil || err != nil {
			return q, err
		}
	}
	return question.Of(b, set, facts)
}
