package report

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
)

// latch is the truth table of a bistable, with what was tried.
func (p *Page) latch(a *album) *section {
	if p.Finding == nil || p.Finding.Latch == nil {
		return nil
	}
	l := p.Finding.Latch
	t := table{Caption: fmt.Sprintf("Inputs %s, reset overrides set. After each change of an input %s are allowed.", l.Inputs, quantity.Format(l.Settling, quantity.Second)),
		Heads: []head{{"set", false}, {"reset", false}, {"output should", false}, {"time seen", true}, {"output otherwise", true}}}
	for _, r := range l.Table {
		row := []entry{{Text: inputState(r.Set)}, {Text: inputState(r.Reset)}, {Text: r.Expected}, {Text: "never tried", Number: true}, {Number: true}}
		if r.Time > 0 {
			row[3].Text, row[4].Text = quantity.Format(r.Time, quantity.Second), quantity.Format(r.Wrong, quantity.Second)
		}
		row[4].Mark = r.Wrong > 0
		t.Rows = append(t.Rows, row)
	}
	s := &section{ID: "latch", Heading: "Truth table", Layout: pair, Tables: []table{t}}
	for _, c := range p.Checks {
		if drawn, ok := picture.Latch(a.id(), c.Result); ok {
			s.Pictures = append(s.Pictures, placed(drawn))
		}
	}
	if len(s.Pictures) == 0 {
		s.Layout = flow
	}
	s.Points = append(s.Points, fmt.Sprintf("%s and %s changed the output; %s of the set and %d of the reset contact.",
		plural(l.Sets, "set"), plural(l.Resets, "reset"), plural(l.SetBounces, "bounce"), l.ResetBounces))
	if m := l.Shortest; m != nil {
		s.Points = append(s.Points, "Shortest press that set the output: "+quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)+".")
	}
	s.Points = append(s.Points, "Rule: "+p.Finding.Verdict.Rule+".")
	return s
}

// latchFaults lists single faults, and where to look.
func (p *Page) latchFaults() *section {
	if p.Finding == nil || p.Finding.Latch == nil || len(p.Finding.Latch.Events) == 0 {
		return nil
	}
	l := p.Finding.Latch
	shown := l.Events[:min(len(l.Events), faultsShown)]
	t := table{Caption: "Faults in order.", Heads: []head{{"at", false}, {"what", false}, {"capture", false}}}
	for _, e := range shown {
		t.Rows = append(t.Rows, []entry{{Text: fmt.Sprintf("%.9g s", e.Time)}, {Text: e.What}, {Text: e.Source}})
	}
	if more := faultsOf(l) - len(shown); more > 0 {
		t.Caption += " And " + plural(more, "more fault") + "."
	}
	s := &section{ID: "faults", Heading: "Faults, and where to look next", Layout: flow, Tables: []table{t}}
	for _, a := range l.Advice {
		s.Points = append(s.Points, a.Look+". "+a.Caution)
	}
	return s
}

// faultsOf counts a latch's faults.
func faultsOf(l *compare.Latch) int {
	return l.MissedSets + l.FalseSets + l.FailedResets + l.FalseResets
}
