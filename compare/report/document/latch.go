package document

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
)

// faultsShown is how many single faults of a latch are listed.
const faultsShown = 10

// latch is the truth table of a bistable, with what was tried.
func (b *Basis) latch() Section {
	l := b.Finding.Latch
	s := Section{ID: "latch", Heading: "Truth table"}
	if l == nil {
		return s
	}
	v := b.Finding.Verdict
	for _, c := range b.Checks {
		s.Layout = Pair
		s.draw(func(id string) picture.Picture { return picture.Latch(id, c.Result) })
	}
	t := &Table{Columns: []Column{{Head: "set"}, {Head: "reset"}, {Head: "output should"}, {Head: "time in it", Number: true}, {Head: "output otherwise", Number: true}}}
	for _, r := range l.Table {
		row := cells(inputState(r.Set), inputState(r.Reset), r.Expected, "never tried", "")
		if r.Time > 0 {
			row[3].Text, row[4].Text = quantity.Format(r.Time, quantity.Second), quantity.Format(r.Wrong, quantity.Second)
		}
		if r.Wrong > 0 {
			row[4].Tone = Bad
		}
		t.Rows = append(t.Rows, row)
	}
	s.table(t, Always)
	s.say(Sentence, fmt.Sprintf("Inputs %s, reset overrides set; after each change of an input %s are allowed.", l.Inputs, quantity.Format(l.Settling, quantity.Second)))
	s.labelled(Sentence, "Verdict", v.Result+" ("+compare.QuantityOf(v.Quantity).Name+").")
	s.add(Block{Label: "Rule", Text: v.Rule + ".", Show: Detail})
	s.say(Sentence, fmt.Sprintf("%s and %s changed the output; %s of the set and %d of the reset contact.",
		quantity.Plural(l.Sets, "set"), quantity.Plural(l.Resets, "reset"), quantity.Plural(l.SetBounces, "bounce"), l.ResetBounces))
	if m := l.Shortest; m != nil {
		s.labelled(Sentence, "Shortest press that set the output", quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)+".")
	}
	s.Records = latchRecords(&v, l)
	return s
}

func inputState(active bool) string {
	if active {
		return "active"
	}
	return "idle"
}

// latchFaults lists single faults, and where to look.
func (b *Basis) latchFaults() Section {
	l := b.Finding.Latch
	s := Section{ID: "faults", Heading: "Faults, and where to look next"}
	if l == nil {
		return s
	}
	shown := l.Events[:min(len(l.Events), faultsShown)]
	t := &Table{Columns: []Column{{Head: "at"}, {Head: "what"}, {Head: "capture"}}}
	sources := map[string]bool{}
	for _, e := range l.Events {
		sources[e.Source] = true
	}
	for _, e := range shown {
		row := cells(fmt.Sprintf("%.9g s", e.Time), e.What, "")
		if len(sources) > 1 {
			row[2].Text = e.Source
		}
		t.Rows = append(t.Rows, row)
	}
	s.table(t, Always)
	if more := l.MissedSets + l.FalseSets + l.FailedResets + l.FalseResets - len(shown); more > 0 {
		s.say(Sentence, "And "+quantity.Plural(more, "more fault")+".")
	}
	var cautions []string
	for _, a := range l.Advice {
		s.say(Step, compare.Sentence(a.Look)+".")
		cautions = append(cautions, a.Caution)
	}
	s.cautions(cautions)
	return s
}

// latchRecords are a latch's counts, its shortest press and its verdict.
func latchRecords(v *compare.Verdict, l *compare.Latch) []Record {
	rows := []Record{{Kind: "verdict", Name: v.Quantity, Detail: v.Result}}
	for _, c := range []struct {
		name string
		n    int
	}{
		{"sets", l.Sets}, {"resets", l.Resets}, {"missed_sets", l.MissedSets}, {"false_sets", l.FalseSets},
		{"failed_resets", l.FailedResets}, {"false_resets", l.FalseResets}, {"set_bounces", l.SetBounces}, {"reset_bounces", l.ResetBounces},
	} {
		n := float64(c.n)
		rows = append(rows, Record{Kind: "latch", Name: c.name, Unit: "1", Value: &n})
	}
	if s := l.Shortest; s != nil {
		rows = append(rows, Record{Kind: "latch", Name: "shortest_set", Unit: "s", Value: &s.Value, Uncertainty: &s.Uncertainty})
	}
	return rows
}
