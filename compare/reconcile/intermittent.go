package reconcile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/step"
)

// changing is the first observation whose train changes inside the capture; -1: none does.
func changing(obs []question.Observation) int {
	return slices.IndexFunc(obs, func(o question.Observation) bool { return len(o.Measurement.Stretches) > 1 })
}

// stretched solves each stretch of a capture that changes inside as a capture of its own, and leads with that. What is told of
// parts and causes is of the longest stretch. Such a board is never within its target: what it is in one stretch it is
// not in the next.
func stretched(d *fit.Design, obs []question.Observation, at int, ask asked) (*compare.Finding, *Evidence, error) {
	m := obs[at].Measurement
	longest := m.Longest()
	parts := make([][]question.Observation, len(m.Stretches))
	for i := range parts {
		parts[i] = stretch(obs, i)
	}
	findings, evidence, err := alone(d, parts, longest, ask)
	if err != nil {
		return nil, nil, err
	}
	f := findings[longest]
	own := f.Finding
	for i := range f.Stretches {
		part := &f.Stretches[i]
		part.Cycles = m.Stretches[i].Cycles
		if i > 0 {
			from := m.Changes[i-1].Time
			part.From = &from
		}
		if i < len(m.Changes) {
			to := m.Changes[i].Time
			part.To = &to
		}
	}
	v := worstOf(findings, f.Verdict)
	f.Answer = nonempty(intermittent(d, m), passing(v.Result, findings, m.Stretches), "In the longest stretch: "+compare.Within(own))
	changes(f, v)
	return f, evidence, nil
}

// alone solves each part of what was captured by itself: all that is asked of the one that leads, the others in brief. The leading
// finding has them all as its stretches.
func alone(d *fit.Design, parts [][]question.Observation, lead int, ask asked) (findings []*compare.Finding, evidence *Evidence, err error) {
	var stretches []compare.Stretch
	for i, obs := range parts {
		in := ask
		in.brief = ask.brief || i != lead
		f, e, err := steady(d, obs, in)
		if err != nil {
			return nil, nil, fmt.Errorf("stretch %d: %w", i+1, err)
		}
		if i == lead {
			evidence = e
		}
		part := compare.Stretch{Measured: f.Measured, Verdict: f.Verdict, Finding: f.Finding}
		if len(f.Causes) > 0 {
			part.Cause = f.Causes[0]
		}
		findings, stretches = append(findings, f), append(stretches, part)
	}
	findings[lead].Stretches = stretches
	return findings, evidence, nil
}

// changes gives a board that changes its verdict, its answer in one line and what to do first.
func changes(f *compare.Finding, v compare.Verdict) {
	f.Verdict = v
	f.Finding = strings.Join(f.Answer, " ")
	f.Next = append([]compare.Next{provoke}, f.Next...)
}

// passing says what the verdict of a board that changes means, and what alone it rests on.
func passing(result string, stretches []*compare.Finding, measured []*fit.Measurement) string {
	switch result {
	case verdict.Fail:
		return "Off target in one stretch at least."
	case verdict.Undecided:
	default:
		return ""
	}
	why := ", for that alone."
	for i, f := range stretches {
		if f.Verdict.Result == verdict.Undecided && measured[i].Moves == (fit.Moves{}) {
			return "Not passed: a stretch is too close to a limit, too."
		} else if f.Verdict.Result == verdict.Undecided {
			why = "." // that moves inside: for this, or for a limit
		}
	}
	return "Not passed" + why
}

// stretch are the observations with stretch i in the place of each capture that has one.
func stretch(obs []question.Observation, i int) []question.Observation {
	out := slices.Clone(obs)
	for k := range out {
		if s := out[k].Measurement.Stretches; len(s) > 1 {
			part := *s[min(i, len(s)-1)]
			part.Source = out[k].Measurement.Source
			out[k].Measurement, out[k].Waveform = &part, nil
		}
	}
	return out
}

// worstOf is the verdict on a board that changes: that of its worst stretch, and no pass.
func worstOf(findings []*compare.Finding, own compare.Verdict) compare.Verdict {
	v := own
	for _, f := range findings {
		if f.Verdict.Result == verdict.Fail && v.Result != verdict.Fail {
			v = f.Verdict
		}
	}
	return unpassed(v)
}

// intermittent says when the period changed, and which part alone would have done that.
func intermittent(d *fit.Design, m *fit.Measurement) string {
	var all []string
	for i, c := range m.Changes {
		s := c.String()
		if parts := explaining(d, m.Stretches[i], m.Stretches[i+1]); parts != "" && !c.Beside() { // the stretches differ by more than that
			s += " (" + parts + ")"
		}
		all = append(all, s)
	}
	all = fit.FirstChanges(all)
	if m.Alike {
		all = append(all, fit.AlikeText)
	}
	text := "Intermittent: the " + m.Subject() + " changes inside the capture, " + strings.Join(all, ", ") + ". " + seek
	if m.Moves.Jumps > 0 {
		text = "Intermittent or drifting: " + m.Moves.Text(m.Subject()) + ". " + seek + " A longer record tells more."
	}
	for _, lack := range m.Moves.Lacks() {
		text += " " + compare.Sentence(lack) + "."
	}
	return text
}

// seek says in one sentence what to do about a change; provoke has it whole.
const seek = "Capture again while you tap the board, then while you warm one part at a time."

// partFit is the chance of steps as far from what a part would do below which it is not named.
const partFit = 0.01

// explaining names the parts each of which would make the change by itself.
func explaining(d *fit.Design, from, to *fit.Measurement) string {
	rel := func(a, b fit.Estimate) step.Step {
		return step.Step{Value: math.Log(b.Value / a.Value), Uncertainty: math.Hypot(a.Uncertainty/a.Value, b.Uncertainty/b.Value)}
	}
	high, low := rel(from.High, to.High), rel(from.Low, to.Low)
	both := from.Covariance/(from.High.Value*from.Low.Value) + to.Covariance/(to.High.Value*to.Low.Value)
	correlation := 0.0
	if u := high.Uncertainty * low.Uncertainty; u > 0 {
		correlation = max(min(both/u, 0.999), -0.999)
	}
	parts, err := step.Parts(d, high, low, correlation)
	if err != nil {
		return "" // the finding says why the circuit does not run
	}
	var names []string
	for _, p := range parts {
		if p.Fit > partFit {
			by := 100 * math.Expm1(p.Change)
			names = append(names, fmt.Sprintf("%s by %s %%", p.Name, quantity.Minus(fmt.Sprintf(map[bool]string{false: "%+.2g", true: "%+.0f"}[math.Abs(by) > 99], by))))
		}
	}
	if len(names) == 0 {
		return ""
	}
	return strings.Join(names, " or ") + " alone would do that"
}
