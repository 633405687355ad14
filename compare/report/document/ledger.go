package document

import (
	"fmt"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/report"
	"offbeat/compare/report/words"
)

// ledgerLine says how much a ledger holds.
func ledgerLine(l *report.Ledger) string {
	n, all := l.Count, 0
	for _, k := range n {
		all += k
	}
	return fmt.Sprintf("%s: %d pass, %d fail, %d undecided, %d without a verdict", quantity.Plural(all, "result"), n["pass"], n["fail"], n["undecided"], n["no target"]+n[""])
}

// ledgerSections are what a ledger holds: the visits, and with the drift of one board how it moved between them.
func (b *Basis) ledgerSections() []Section {
	l := b.Ledger
	t := &Table{Columns: []Column{{Head: "time (UTC)"}, {Head: "board"}, {Head: "lot", Drop: 2}, {Head: "station", Drop: 3}, {Head: "frequency or high time"}, {Head: "verdict"}, {Head: "cause"}, {Head: "design", Drop: 4}, {Head: "version", Drop: 5}}}
	for i := range l.Visits {
		v := &l.Visits[i]
		frequency := ""
		if m := v.Measured.Frequency; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Hertz)
		} else if m := v.Measured.High; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)
		}
		t.Rows = append(t.Rows, []Cell{{Text: v.At.Format("2006-01-02 15:04")}, {Text: v.Board}, {Text: v.Lot}, {Text: v.Station}, {Text: frequency},
			verdictOf(v), {Text: visitCause(v)}, {Text: v.Revision}, {Text: v.Tool}})
	}
	visits := Section{ID: "visits", Heading: "Results"}
	visits.table(t, Always)
	return []Section{visits, visitDrift(l.Drift), notes(l.Warnings)}
}

// verdictOf is a result's verdict, and whether a newer result has taken its place.
func verdictOf(v *ledger.Visit) Cell {
	if v.SupersededBy != "" {
		return Cell{Text: strings.TrimSpace(v.Verdict + " (superseded)")}
	}
	return toned(v.Verdict, tones[v.Verdict])
}

// visitCause is the likeliest cause, or why there is none.
func visitCause(v *ledger.Visit) string {
	if v.Error != "" {
		return "not readable"
	}
	if v.Silent {
		return "no pulses"
	}
	if v.Cause == "" {
		return ""
	}
	return v.CauseTitle() + " (" + quantity.Probability(v.Probability) + ")"
}

// visitDrift is how a board's quantities moved from visit to visit.
func visitDrift(all []ledger.Drift) Section {
	s := Section{ID: "drift", Heading: "Between visits"}
	t := &Table{Caption: "± is one standard uncertainty; moved means more than twice that.", Columns: []Column{{}, {Head: "since the visit before"}, {}, {Head: "a year"}}}
	for _, d := range all {
		last := d.Changes[len(d.Changes)-1]
		state := Cell{Text: "within its uncertainty"}
		if last.Significant {
			state = toned("moved", Doubtful)
		}
		t.Rows = append(t.Rows, []Cell{{Text: compare.QuantityOf(d.Quantity).Name}, {Text: words.Changed(last.Value, last.Uncertainty)}, state, {Text: words.Changed(d.PerYear.Value, d.PerYear.Uncertainty)}})
	}
	s.table(t, Always)
	return s
}
