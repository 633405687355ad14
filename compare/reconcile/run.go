package reconcile

import (
	"cmp"
	"context"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/compare/nextreading"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/predict"
	"offbeat/fit/workers"
)

// suggestions is how many next readings a finding lists.
const suggestions = 3

// Run compares a design with one or more measurements of one board. It fails where the design does not fit its
// circuit, or a measurement has no usable times.
func Run(d *fit.Design, ms []*fit.Measurement) (*compare.Finding, error) {
	f, _, err := Solve(d, ms)
	return f, err
}

// RunWith is Run for captures that were taken under conditions of their own.
func RunWith(d *fit.Design, obs []Observation) (*compare.Finding, error) {
	f, _, err := SolveWith(d, obs)
	return f, err
}

// Solve is Run with the evidence behind the Finding.
func Solve(d *fit.Design, ms []*fit.Measurement) (*compare.Finding, *Evidence, error) {
	return SolveWith(d, observed(ms))
}

// observed are captures with nothing special about them.
func observed(ms []*fit.Measurement) []Observation {
	obs := make([]Observation, len(ms))
	for i, m := range ms {
		obs[i].Measurement = m
	}
	return obs
}

// SolveWith is RunWith with the evidence behind the Finding.
func SolveWith(d *fit.Design, obs []Observation) (*compare.Finding, *Evidence, error) {
	return solve(d, obs, asked{})
}

// SolveUntil does what SolveWith does or, with an earlier Finding, what SolveSince does. It stops with its context.
func SolveUntil(ctx context.Context, d *fit.Design, obs []Observation, earlier *compare.Finding) (*compare.Finding, *Evidence, error) {
	return solve(d, obs, asked{ctx: ctx, earlier: earlier})
}

// SolveSince asks what has moved since an earlier Finding of the same board: its measured times join the new ones, and
// the causes are what happened between. Tolerances then blur nothing, since each part is compared with itself. The
// design's readings are taken to be of the board as it is now.
func SolveSince(d *fit.Design, obs []Observation, earlier *compare.Finding) (*compare.Finding, *Evidence, error) {
	return solve(d, obs, asked{earlier: earlier})
}

// asked is what solve is to do. The zero value is the whole of it.
type asked struct {
	ctx       context.Context  // ends it; nil: nothing does
	earlier   *compare.Finding // ask what has moved since; nil: no baseline
	brief     bool             // leave out groups and next readings
	predicted *predict.Result  // of the design; nil: not known yet
	many      *Many            // what boards of the design share; nil: it is no board of many
}

func solve(d *fit.Design, obs []Observation, ask asked) (*compare.Finding, *Evidence, error) {
	if len(obs) == 0 {
		if len(d.Stills) > 0 {
			return standing(d, ask)
		}
		return nil, nil, errNothing
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
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, nil, err
	}
	set, notes, err := settings(b.Circuit, obs)
	if err != nil {
		return nil, nil, err
	}
	s, err := ask.pose(b, set, facts(obs))
	if err != nil {
		return nil, nil, err
	}
	b = s.board
	s.problem.Context = ask.ctx
	pinned := s.problem
	if ask.earlier != nil {
		if s, err = since(ask.ctx, b, set, facts(obs), ask.earlier); err != nil {
			return nil, nil, err
		}
	}
	predicted, pins, err := s.compute(d, pinned, set, ask)
	if err != nil {
		return nil, nil, err
	}
	f := s.summary(ask)
	if err := pinned.Ended(); err != nil {
		return nil, nil, err
	}
	f.Title, f.Groups = d.Title, pins
	f.Measured, f.Predicted = measured(b.Circuit, shown(set)), Predicted(predicted)
	if f.Verdict, err = s.decide(d, set); err != nil {
		return nil, nil, err
	}
	s.blind(f)
	if f.Waveform, err = waveformOf(b.Circuit, &pinned.Base, d, set); err != nil {
		return nil, nil, err
	}
	f.Next = untaken(f.Next, f.Waveform)
	if !ask.brief {
		s.settled(f, d)
	}
	f.Families = s.families()
	f.Deviation = s.deviation(f, d)
	f.Confounded = s.confounded(f)
	f.Warnings = append(s.warnings(d, obs, notes, predicted), s.waveWarnings(f, d, obs, set)...)
	f.Warnings = append(f.Warnings, s.unloadedWarnings(f, set)...)
	odd := oddities(b.Circuit, f, b.Inverted)
	if ask.earlier == nil {
		odd = append(odd, s.contradictions(f, d, obs, set)...)
	}
	f.Warnings = append(append([]string{}, odd...), f.Warnings...)
	f.Reasoning = s.reasoning(f)
	s.answer(f, odd)
	f.Answer = append(f.Answer, modulated(obs)...)
	if len(notes) > 0 {
		f.Finding = "The captures disagree (see the warnings). " + f.Finding
	}
	if err := pinned.Ended(); err != nil {
		return nil, nil, err
	}
	return f, &Evidence{b, s.problem, s.cases, s.result}, nil
}

// pose is posed, by what boards of the design share where that is possible.
func (a *asked) pose(b *cause.Board, set []setting, facts []posterior.Fact) (*solved, error) {
	if a.many != nil && len(facts) == 0 {
		if s, err := a.many.pose(b, set); s != nil || err != nil {
			return s, err
		}
	}
	return posed(b, set, facts)
}

// backSolve compares the cases.
func (s *solved) backSolve() (*posterior.Result, error) {
	if s.boards != nil {
		return s.boards.Run(s.problem)
	}
	return posterior.Run(s.problem, hypotheses(s.cases))
}

// compute runs what takes time and does not wait for each other: the back-solve, what the times pin down, and, where it
// is not known yet, what the design predicts.
func (s *solved) compute(d *fit.Design, pinned *posterior.Problem, set []setting, ask asked) (predicted *predict.Result, pins []compare.Group, err error) {
	var errs [3]error
	workers.All(
		func() { s.result, errs[1] = s.backSolve() },
		func() {
			if !ask.brief {
				pins, errs[2] = groups(pinned, set, s.board)
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
func (s *solved) summary(ask asked) *compare.Finding {
	f := &compare.Finding{Schema: 1}
	workers.All(
		func() { f.Parts = s.parts() },
		func() { f.Causes = s.causes() },
		func() {
			if !ask.brief {
				f.Next = nextreading.Rank(s.bench(), s.result, s.explanations(), suggestions+1)
			}
		},
	)
	if f.Causes[0].Cause == cause.Unexplained && !s.result.Status.Impossible {
		s.withdraw(f, ask)
	}
	return f
}

// withdraw takes back what the times say of the parts, where no listed cause explains them: the samples then hold the
// priors alone. A part that was read is what its reading says. What tells more is to measure the others.
func (s *solved) withdraw(f *compare.Finding, ask asked) {
	read := map[string]bool{}
	for _, r := range s.board.Design.Readings {
		read[r.Name] = true
	}
	for i := range f.Parts {
		f.Parts[i].Unsupported = f.Parts[i].Unsupported || !read[f.Parts[i].Name]
	}
	if !ask.brief {
		f.Next = slices.DeleteFunc(nextreading.Direct(s.bench()), func(n compare.Next) bool { return read[n.Part] })
	}
}

// blind takes the verdict back where the likeliest cause says that what was measured is not the output as it is, and puts
// first what to do about it.
func (s *solved) blind(f *compare.Finding) {
	top := f.Causes[0]
	if top.Probability < 0.5 || !cause.Of(top.Cause, top.Parts).Blind {
		return
	}
	var members []int
	for i := range s.cases {
		if s.cases[i].Cause == top.Cause {
			members = append(members, i)
		}
	}
	said, _ := s.said(top.Parts, members)
	if reading, enter, ok := cause.Do(top.Cause, said); ok {
		kind := "capture"
		if enter == newCapture {
			kind = nextreading.Check
		}
		f.Next = append([]compare.Next{{Reading: reading, Kind: kind, Enter: enter, Effort: 1, Caution: caution.Live}}, f.Next...)
	}
	if f.Verdict.Result != verdict.None {
		f.Verdict = compare.Verdict{Result: verdict.Undecided, Quantity: f.Verdict.Quantity, Rule: "what was captured is not the output as it is; the target holds for the output"}
	}
}

// bench is what readings are taken of.
func (s *solved) bench() *nextreading.Bench {
	return &nextreading.Bench{Circuit: s.board.Circuit, Parts: s.board.Parts, Typical: s.problem.Base, Cases: s.cases, Board: s.board}
}

// facts are those of all observations.
func facts(obs []Observation) []posterior.Fact {
	var out []posterior.Fact
	for i := range obs {
		out = append(out, obs[i].Facts...)
	}
	return out
}

// own finds the captures taken under the design's own conditions; nil: none were.
func own(set []setting) *fit.Measurement {
	for i := range set {
		if set[i].plain() {
			return set[i].merged
		}
	}
	return nil
}

// shown is the measurement that the finding's times are of.
func shown(set []setting) *fit.Measurement {
	if m := own(set); m != nil {
		return m
	}
	return set[0].merged
}

// decide judges the captures taken under the design's own conditions, or what those with a probe would be without it.
func (s *solved) decide(d *fit.Design, set []setting) (compare.Verdict, error) {
	c := s.board.Circuit
	m := own(set)
	if m == nil {
		m = s.unloaded(set)
	}
	if m == nil && len(d.Targets) > 0 {
		return compare.Verdict{Result: verdict.Undecided, Quantity: d.Targets[0].Quantity,
			Rule: "every capture was taken under conditions of its own; the target holds for the board without them"}, nil
	}
	return verdict.Decide(d.Targets, m, c.OnePulse)
}

// solved is a board with its back-solve.
type solved struct {
	board   *cause.Board
	problem *posterior.Problem
	cases   []cause.Case
	result  *posterior.Result
	boards  *posterior.Boards // what boards of the design share; nil: nothing
	changed *changed          // how the samples hold what moved since a baseline; nil: no baseline
}

func hypotheses(cases []cause.Case) []posterior.Hypothesis {
	h := make([]posterior.Hypothesis, len(cases))
	for i := range cases {
		h[i] = cases[i].Hypothesis
	}
	return h
}

// explanations names, for each case, the explanation it belongs to.
func (s *solved) explanations() []string {
	e := make([]string, len(s.cases))
	for i := range s.cases {
		e[i] = cause.Key(s.cases[i].Cause, s.cases[i].Parts)
	}
	return e
}

// measured puts a measurement's times into the JSON's form.
func measured(c *circuit.Circuit, m *fit.Measurement) compare.Times[compare.Measured] {
	of := func(e fit.Estimate) *compare.Measured {
		return &compare.Measured{Value: e.Value, Uncertainty: e.Uncertainty, Count: e.Count}
	}
	t := compare.Times[compare.Measured]{High: of(m.WithClock(m.High))}
	if c != nil && c.OnePulse || m.Low.Count == 0 {
		return t
	}
	t.Low, t.Period, t.Frequency, t.Duty = of(m.WithClock(m.Low)), of(m.Period()), of(m.Frequency()), of(m.Duty())
	return t
}

// Measured puts a measurement's times into the JSON's form, for a measurement that no design judges.
func Measured(m *fit.Measurement) compare.Times[compare.Measured] { return measured(nil, m) }

// Predicted puts a prediction into the JSON's form.
func Predicted(r *predict.Result) compare.Times[compare.Predicted] {
	of := func(q int) *compare.Predicted {
		b := r.Bands[q]
		return &compare.Predicted{Nominal: b.Nominal, Low: b.Worst[0], High: b.Worst[1], FirstOrder: b.FirstOrder, RSS: b.RSS, MonteCarlo: b.MonteCarlo}
	}
	t := compare.Times[compare.Predicted]{High: of(0)}
	if !r.OnePulse {
		t.Low, t.Period, t.Frequency, t.Duty = of(1), of(2), of(3), of(4)
	}
	return t
}
