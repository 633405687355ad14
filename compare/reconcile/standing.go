package reconcile

import (
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/measure"
	"offbeat/fit/predict"
	"offbeat/fit/wiring"
)

// patience is for how many of the design's periods a record shows no edge at least where its output is said to stand still (common
// practice).
const patience = 4

// Standing is what a record without pulses says of a design's board. ok is false where it says nothing: it is too short for one that
// runs to show a pulse, or the design's output stands until something triggers it; why says so.
func Standing(d *fit.Design, s *measure.Still, inverted bool) (still fit.Still, why string, ok bool) {
	c, err := circuit.Of(d)
	if err != nil || c.Latch {
		return still, "", false
	}
	if c.OnePulse {
		return still, "A pulse follows a trigger alone: capture while it is triggered.", false
	}
	v, err := c.Typical(d)
	high, low, runs := c.Times(&v)
	if err != nil || !runs {
		return still, "", false
	}
	if least := patience * (high + low); s.Seconds < least {
		return still, "Record for " + quantity.Format(least, quantity.Second) + " at least, " + quantity.Plural(patience, "period") + " of the design.", false
	}
	still = fit.Still{Seconds: s.Seconds, State: s.State, Seen: !s.Moved}
	if s.State == 0 {
		level := s.Level
		if inverted {
			level = -level
		}
		if still.State = wiring.StandsLow; level > (v[circuit.Supply]+v[circuit.Minus])/2 {
			still.State = wiring.StandsHigh
		}
		if inverted {
			still.State = -still.State
		}
	}
	return still, "", true
}

// Stood says how the output stood in a capture.
func Stood(s *fit.Still, seen *measure.Still) string {
	at := ""
	if !math.IsNaN(seen.Level) {
		at = ", at " + quantity.Format(seen.Level, quantity.Volt) + ","
	}
	return "the output " + standsAt(s.State) + at + " without a pulse in " + quantity.Format(s.Seconds, quantity.Second)
}

// standsAt is how an output stands, in words.
func standsAt(state int) string {
	return map[int]string{wiring.StandsHigh: "stands high", wiring.StandsLow: "stands low", 0: "stands still"}[state]
}

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
	still := "The output " + standsAt(d.Stills[0].State) + ": no pulse in " + quantity.Format(d.Stills[0].Seconds, quantity.Second) + "."
	if i := slices.IndexFunc(f.Causes, func(c compare.Cause) bool { return c.Cause == cause.WrongSignal }); i >= 0 && d.Stills[0].Seen {
		s.look(f, &f.Causes[i])
		s.doubt(f)
	}
	f.Answer = []string{still, s.likely(f, nil, briefly)}
	f.Finding = still + " " + s.likely(f, nil, inFull)
	if text := notExcluded(f); text != "" && !s.result.Status.Impossible {
		f.Answer = append(f.Answer, text)
	}
	if f.Verdict.Result == verdict.Undecided {
		why := VerdictText(&f.Verdict)
		f.Answer, f.Finding = append(f.Answer, why), f.Finding+" "+why
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
	s.answer(f, nil, "")
}
