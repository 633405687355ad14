package report

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// faultsShown is how many single faults of a latch the text lists.
const faultsShown = 10

// latch writes the part of a bistable's report that stands in place of times, parts and causes.
func (p *printer) latch(f *compare.Finding) {
	p.truthTable(f.Latch)
	p.verdict(f)
	p.presses(f.Latch)
	p.faults(f.Latch)
	if len(f.Latch.Advice) == 0 {
		return
	}
	p.heading("LOOK NEXT AT")
	for i, a := range f.Latch.Advice {
		p.prose(fmt.Sprintf("  %d. ", i+1), "     ", a.Look)
	}
	p.prose("     Caution: ", "     ", f.Latch.Advice[0].Caution)
}

func (p *printer) truthTable(l *compare.Latch) {
	p.heading("TRUTH TABLE")
	var rows [][]cell
	for _, r := range l.Table {
		row := plain(inputState(r.Set), inputState(r.Reset), r.Expected, "never tried", "")
		if r.Time > 0 {
			row[3].text, row[4].text = quantity.Format(r.Time, quantity.Second), "0 s"
		}
		if r.Wrong > 0 {
			row[4] = cell{quantity.Format(r.Wrong, quantity.Second), red}
		}
		rows = append(rows, row)
	}
	p.table([]column{{head: "set"}, {head: "reset"}, {head: "output should"}, {head: "time seen"}, {head: "output otherwise"}}, rows)
	p.prose("  ", "  ", fmt.Sprintf("Inputs %s, reset overrides set; after each change of an input %s are allowed.", l.Inputs, quantity.Format(l.Settling, quantity.Second)))
}

func inputState(active bool) string {
	if active {
		return "active"
	}
	return "idle"
}

// presses counts what was tried and what came of it.
func (p *printer) presses(l *compare.Latch) {
	p.heading("PRESSES")
	count := func(name string, n, bounces int) []cell {
		return plain(name, fmt.Sprint(n), fmt.Sprint(bounces))
	}
	p.table([]column{{}, {head: "changed the output", right: true}, {head: "bounces", right: true}},
		[][]cell{count("set", l.Sets, l.SetBounces), count("reset", l.Resets, l.ResetBounces)})
	if s := l.Shortest; s != nil {
		p.line("  shortest press that set the output: %s", quantity.PlusMinus(s.Value, s.Uncertainty, quantity.Second))
	}
}

func (p *printer) faults(l *compare.Latch) {
	if len(l.Events) == 0 {
		return
	}
	p.heading("FAULTS")
	var rows [][]cell
	sources := map[string]bool{}
	for _, e := range l.Events {
		sources[e.Source] = true
	}
	for _, e := range l.Events[:min(len(l.Events), faultsShown)] {
		row := plain(fmt.Sprintf("at %.9g s", e.Time), e.What, "")
		if len(sources) > 1 {
			row[2].text = e.Source
		}
		rows = append(rows, row)
	}
	p.table([]column{{}, {}, {}}, rows)
	if more := faultsOf(l) - len(rows); more > 0 {
		p.line("  and %s", plural(more, "more fault"))
	}
}

// latchRows are a latch's counts, its shortest press and its verdict as rows of the CSV table.
func latchRows(f *compare.Finding) []Row {
	l := f.Latch
	if l == nil {
		return nil
	}
	rows := []Row{{Kind: "verdict", Name: f.Verdict.Quantity, Detail: f.Verdict.Result}}
	for _, c := range []struct {
		name string
		n    int
	}{
		{"sets", l.Sets}, {"resets", l.Resets}, {"missed_sets", l.MissedSets}, {"false_sets", l.FalseSets},
		{"failed_resets", l.FailedResets}, {"false_resets", l.FalseResets}, {"set_bounces", l.SetBounces}, {"reset_bounces", l.ResetBounces},
	} {
		n := float64(c.n)
		rows = append(rows, Row{Kind: "latch", Name: c.name, Unit: "1", Value: &n})
	}
	if s := l.Shortest; s != nil {
		rows = append(rows, Row{Kind: "latch", Name: "shortest_set", Unit: "s", Value: &s.Value, Uncertainty: &s.Uncertainty})
	}
	return rows
}
