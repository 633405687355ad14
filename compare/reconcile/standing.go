package reconcile

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// standing is the finding of a board of which nothing but its standing still was seen, or no steady train in samples that lie
// too far apart: what can be behind that, by how often it happens. Of the parts it tells nothing but what was read of them.
func standing(d *fit.Design, ask asked) (*compare.Finding, *Evidence, error) {
	if ask.earlier != nil {
		return nil, nil, fmt.Errorf("%w; a baseline asks what has moved, and an output that stands still has no times to compare", question.ErrNothing)
	}
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, nil, err
	}
	q, err := question.Of(b, nil, nil)
	if err != nil {
		return nil, nil, err
	}
	q.Problem.Context = ask.ctx
	predicted, err := predict.Run(d)
	if err != nil {
		return nil, nil, err
	}
	r, err := q.Solve()
	if err != nil {
		return nil, nil, err
	}
	s := &solved{Question: *q, result: r}
	f := &compare.Finding{Schema: 1, Title: d.Title, Groups: []compare.Group{}, Parts: s.parts(), Causes: s.causes(ask), Predicted: Predicted(predicted)}
	s.withdraw(f, ask)
	f.Families = s.families()
	f.Confounded = []string{}
	f.Warnings = s.warnings(d, nil, nil, predicted)
	f.Verdict = compare.Verdict{Result: verdict.None}
	if len(d.Targets) > 0 {
		f.Verdict = compare.Verdict{Result: verdict.Fail, Quantity: d.Targets[0].Quantity, Rule: "an output that stands still has no " + compare.QuantityOf(d.Targets[0].Quantity).Name}
	}
	if d.Coarse() > 0 {
		s.coarse(f)
		return f, &Evidence{b, s.Problem, s.Cases, s.result}, nil
	}
	still := "The output stands still: no pulse in " + quantity.Format(d.Stills[0].Seconds, quantity.Second) + "."
	f.Answer = []string{still, s.likely(f, nil, briefly)}
	f.Finding = still + " " + s.likely(f, nil, inFull)
	if text := notExcluded(f); text != "" && !s.result.Status.Impossible {
		f.Answer = append(f.Answer, text)
	}
	return f, &Evidence{b, s.Problem, s.Cases, s.result}, nil
}

// coarse words the finding of a capture whose samples lie too far apart to show a train at all.
func (s *solved) coarse(f *compare.Finding) {
	if f.Verdict.Result != verdict.None {
		f.Verdict = compare.Verdict{Result: verdict.Undecided, Quantity: f.Verdict.Quantity, Rule: "the capture shows no steady train of pulses"}
	}
	if top := f.Causes[0]; cause.Of(top.Cause, top.Parts).Blind {
		f.Next = nil // another capture first
	}
	s.blind(f)
	s.answer(f, nil, false)
}
