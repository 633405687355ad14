package reconcile

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/posterior"
	"offbeat/fit/predict"
	"offbeat/fit/workers"
)

// steady is the finding of a board whose times are the same all along.
func steady(d *fit.Design, obs []question.Observation, ask asked) (*compare.Finding, *Evidence, error) {
	seen, facts, levels := question.OutputSeen(d, obs)
	facts = append(facts, question.Facts(obs)...)
	b, err := cause.NewBoard(seen)
	if err != nil {
		return nil, nil, err
	}
	set, notes, err := question.Settings(b.Circuit, obs)
	if err != nil {
		return nil, nil, err
	}
	q, err := ask.pose(b, set, facts)
	if err != nil {
		return nil, nil, err
	}
	b = q.Board
	q.Problem.Context = ask.ctx
	pinned := q.Problem
	if ask.earlier != nil {
		if q, err = question.Since(ask.ctx, b, set, facts, ask.earlier); err != nil {
			return nil, nil, err
		}
	}
	s := &solved{Question: *q}
	predicted, pins, err := s.compute(d, pinned, set, ask)
	if err != nil {
		return nil, nil, err
	}
	f, err := s.summary(ask)
	if err != nil {
		return nil, nil, err
	}
	if err := pinned.Ended(); err != nil {
		return nil, nil, err
	}
	f.Title, f.Groups = d.Title, pins
	f.Measured, f.Predicted = measured(b.Circuit, question.Shown(set)), Predicted(predicted)
	if f.Verdict, err = s.decide(d, set); err != nil {
		return nil, nil, err
	}
	moves := moving(obs)
	if len(moves) > 0 {
		f.Verdict = unpassed(f.Verdict)
	}
	s.blind(f)
	if f.Waveform, err = waveformOf(b.Circuit, &pinned.Base, b.Design, set); err != nil {
		return nil, nil, err
	}
	f.Next = untaken(f.Next, f.Waveform)
	if !ask.brief {
		s.settled(f, d)
		s.unsaid(f, obs, set)
		f.Deviation = s.deviation(f, d)
	}
	f.Families = s.families()
	f.Confounded = s.confounded(f)
	f.Warnings = append(s.warnings(d, obs, notes, predicted), s.waveWarnings(f, d, obs, set)...)
	f.Warnings = append(f.Warnings, s.unloadedWarnings(f, set)...)
	odd := oddities(b, f)
	if ask.earlier == nil {
		odd = append(odd, s.contradictions(f, d, obs, set)...)
	}
	f.Warnings = append(append([]string{}, odd...), f.Warnings...)
	if levels != "" {
		f.Warnings = append(f.Warnings, levels)
	}
	f.Reasoning = s.reasoning(f)
	lacking := slices.ContainsFunc(obs, func(o question.Observation) bool { return len(o.Measurement.Moves.Lacks()) > 0 })
	slip := Slipped(f)
	if f.Causes[0].Cause == cause.WrongSignal { // which says so itself
		slip = 0
	}
	given := ""
	switch {
	case lacking:
		given = "While it runs: "
	case slip > 0:
		given = "If units and prefixes are right: "
	}
	s.answer(f, odd, given)
	if slip > 0 { // no part's fault is of that size
		if text := compare.Sentence(slipText(slip, b.TimeUnit)) + "."; !strings.Contains(f.Finding, slipText(slip, b.TimeUnit)) {
			f.Answer, f.Finding = append([]string{text}, f.Answer...), text+" "+f.Finding
		}
		if !ask.brief {
			f.Next = append([]compare.Next{seeUnits}, f.Next...)
		}
	}
	var nominal [5]float64
	for i, p := range f.Predicted.Each() {
		if p != nil {
			nominal[i] = p.Nominal
		}
	}
	if text := TargetSlip(d, nominal); text != "" {
		f.Answer, f.Finding = append(f.Answer, text), f.Finding+" "+text
	}
	if len(moves) > 0 {
		first := settle
		if lacking {
			first = provoke
		}
		f.Next = append([]compare.Next{first}, f.Next...)
		f.Answer = append(moves, f.Answer...)
		f.Finding = strings.Join(moves, " ") + " " + f.Finding
	}
	f.Answer = append(f.Answer, modulated(obs)...)
	if len(notes) > 0 {
		f.Finding = "The captures disagree (see the warnings). " + f.Finding
		f.Answer = append(f.Answer, "The captures disagree by more than their uncertainty, which is widened to cover them: see the notes.")
	}
	if err := pinned.Ended(); err != nil {
		return nil, nil, err
	}
	s.Done(s.result) // of many boards, of which no one asks for the evidence
	return f, &Evidence{b, s.Problem, s.Cases, s.result}, nil
}

// compute runs what takes time and does not wait for each other: the back-solve, what the times pin down, and, where it
// is not known yet, what the design predicts.
func (s *solved) compute(d *fit.Design, pinned *posterior.Problem, set []question.Setting, ask asked) (predicted *predict.Result, pins []compare.Group, err error) {
	var errs [3]error
	workers.All(
		func() { s.result, errs[1] = s.Solve() },
		func() {
			if !ask.brief {
				pins, errs[2] = groups(pinned, set, s.Board)
			}
		},
		func() {
			if predicted = ask.predicted; predicted == nil {
				predicted, errs[0] = predict.Run(d)
			}
		},
	)
	return predicted, pins, cmp.Or(errs[0], errs[1], errs[2])
}

// summary is what the weighted samples say: parts, causes and the next readings.
func (s *solved) summary(ask asked) (*compare.Finding, error) {
	f := &compare.Finding{Schema: 1, Causes: s.causes(ask)}
	if !ask.brief && ask.earlier == nil {
		if err := s.loosen(&f.Causes[0]); err != nil {
			return nil, err
		}
	}
	workers.All(
		func() { f.Parts = s.parts() },
		func() {
			if !ask.brief {
				f.Next = nextreading.Rank(s.bench(), s.result, s.explanations(), suggestions+1)
			}
		},
	)
	if f.Causes[0].Cause == cause.Unexplained || s.result.Status.Impossible {
		s.withdraw(f, ask)
	}
	return f, nil
}

// withdraw takes back what the times say of the parts, where no listed cause explains them: the samples then hold the
// priors alone. A part that was read is what its reading says. What tells more is to measure the others.
func (s *solved) withdraw(f *compare.Finding, ask asked) {
	read, meant := map[string]bool{}, map[string]bool{} // a reading that is likelier wrong says nothing either
	for _, r := range s.Board.Design.Readings {
		read[r.Name] = true
		for _, q := range f.Parts {
			if q.Name == r.Name && math.Abs(q.Value-r.Value) <= r.Half+4*r.Standard {
				meant[q.Name] = true
			}
		}
	}
	for i := range f.Parts {
		f.Parts[i].Unsupported = f.Parts[i].Unsupported || !meant[f.Parts[i].Name] || s.result.Status.Impossible
	}
	if !ask.brief {
		f.Next = slices.DeleteFunc(nextreading.Direct(s.bench()), func(n compare.Next) bool { return read[n.Part] })
	}
}

// blind takes the verdict back where the likeliest cause says that what was measured is not the output as it is, and puts
// first what to do about it.
func (s *solved) blind(f *compare.Finding) {
	if s.doubt(f) {
		s.look(f, &f.Causes[0])
	}
}

// doubt takes the verdict back where the likeliest cause says that what was captured is not the output as it is.
func (s *solved) doubt(f *compare.Finding) bool {
	top := &f.Causes[0]
	if top.Probability < 0.5 || !cause.Of(top.Cause, top.Parts).Blind {
		return false
	}
	if f.Verdict.Result != verdict.None {
		f.Verdict = compare.Verdict{Result: verdict.Undecided, Quantity: f.Verdict.Quantity, Rule: "what was captured is not the output as it is; the target holds for the output"}
	}
	return true
}

// look puts first what to do about a cause.
func (s *solved) look(f *compare.Finding, c *compare.Cause) {
	var members []int
	for i := range s.Cases {
		if s.Cases[i].Cause == c.Cause {
			members = append(members, i)
		}
	}
	said, _ := s.said(c.Parts, members)
	if reading, enter, ok := cause.Do(c.Cause, said); ok {
		kind := "capture"
		if enter == newCapture {
			kind = nextreading.Check
		}
		f.Next = append([]compare.Next{{Reading: compare.Sentence(reading), Kind: kind, Enter: enter, Effort: 1, Caution: caution.Live}}, f.Next...)
	}
}

// decide judges the captures taken under the design's own conditions, or what those with a probe would be without it.
func (s *solved) decide(d *fit.Design, set []question.Setting) (compare.Verdict, error) {
	c := s.Board.Circuit
	m := question.Own(set)
	if m == nil {
		m = s.unloaded(set)
	}
	if m == nil && len(d.Targets) > 0 {
		return compare.Verdict{Result: verdict.Undecided, Quantity: d.Targets[0].Quantity,
			Rule: "every capture was taken under conditions of its own; the target holds for the board without them"}, nil
	}
	return verdict.Decide(d.Targets, m, c.OnePulse)
}
