package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/session"
)

// Live writes how a stream that is being heard stands: the lines of status, the times now with their drift,
// the parts that they imply, the marks. It is written over and over at one place, so it is kept short.
func Live(w io.Writer, sh *session.Snapshot, status []string, s Style) error {
	p := newPrinter(w, s)
	for i, l := range status {
		attribute := ""
		if i == 0 {
			attribute = bold
		}
		p.line("%s", p.paint(attribute, cut(l, p.style.Width)))
	}
	p.now(sh)
	if sh.Failed != nil {
		p.prose("  ", "  ", "No back-solve: "+sh.Failed.Error())
	}
	if sh.Finding != nil {
		p.parts(sh.Finding)
		p.line("")
		p.prose("  ", "  ", sh.Finding.Finding)
	}
	p.marks(sh.Marks)
	p.line("")
	p.prose("  ", "  ", Met(&sh.Stream))
	return p.w.Flush()
}

// LiveLine writes how a stream that is being heard stands in one line: the time in it, the times
// now, their drift, and the parts that they imply.
func LiveLine(w io.Writer, sh *session.Snapshot) error {
	line := fmt.Sprintf("%.1f s: ", sh.Time)
	if sh.Now == nil {
		line += "no whole cycles yet; " + Met(&sh.Stream)
	} else {
		line += summary(sh.Now)
		if d := sh.Drift.Period; d != nil {
			line += "; period " + changed(d.Value, d.Uncertainty) + " since the start"
		} else if d := sh.Drift.High; d != nil {
			line += "; high time " + changed(d.Value, d.Uncertainty) + " since the start"
		}
	}
	if f := sh.Finding; f != nil {
		for _, q := range f.Parts {
			line += fmt.Sprintf("; %s %s, out of tolerance %s", q.Name, quantity.Format(q.Value, units[q.Unit]), Percent(q.OutOfTolerance))
		}
	}
	_, err := fmt.Fprintln(w, line)
	return err
}

// Session writes what was met while a stream was heard, below what was measured in it.
func Session(w io.Writer, sh *session.Snapshot, s Style) error {
	p := newPrinter(w, s)
	p.heading("HEARD")
	p.prose("  ", "  ", Met(&sh.Stream))
	for i, d := range pick(&sh.Drift) {
		if d != nil && timeRows[i].key != "frequency" {
			p.line("  %s %s since the start", timeRows[i].name, changed(d.Value, d.Uncertainty))
		}
	}
	p.marks(sh.Marks)
	return p.w.Flush()
}

// now is the table of the times as they are.
func (p *printer) now(sh *session.Snapshot) {
	p.line("")
	if sh.Now == nil {
		p.line("  No whole cycles yet.")
		return
	}
	measured, drift := pick(sh.Now), pick(&sh.Drift)
	var expected [5]*compare.Predicted
	if sh.Finding != nil {
		expected = pick(&sh.Finding.Predicted)
	}
	var rows [][]cell
	for i, t := range timeRows {
		m := measured[i]
		if m == nil {
			continue
		}
		row := plain(t.name, quantity.PlusMinus(m.Value, m.Uncertainty, t.unit), "", "", "")
		if d := drift[i]; d != nil {
			row[2].text = changed(d.Value, d.Uncertainty)
		}
		if e := expected[i]; e != nil {
			row[3].text = span(e.Low, e.High, t.unit)
			row[4].text = side(m.Value, e.Low, e.High)
		}
		rows = append(rows, row)
	}
	p.table([]column{{head: ""}, {head: "now"}, {head: "since the start"}, {head: "parts in tolerance", drop: 2}, {head: "", drop: 1}}, rows)
}

// marks lists the user's marks, each with its steps and the part that they suit best.
func (p *printer) marks(marks []compare.Mark) {
	if len(marks) == 0 {
		return
	}
	p.heading("MARKS")
	for _, m := range marks {
		p.prose(fmt.Sprintf("  %d. ", m.Number), "     ", fmt.Sprintf("at %.1f s, %s: %s", m.Time, m.Text, StepsOf(&m)))
	}
}

// StepsOf says what happened at a mark.
func StepsOf(m *compare.Mark) string {
	if m.High == nil {
		return m.Note
	}
	text := "high time " + changed(m.High.Relative, m.High.Uncertainty)
	if m.Low != nil {
		text += ", low time " + changed(m.Low.Relative, m.Low.Uncertainty)
	}
	return text + "; " + suits(m)
}

const (
	stepClear = 3    // standard uncertainties that a step must exceed to be called one
	suitFloor = 0.05 // probability of a part's fit below which it does not explain the steps
)

// suits says which part's change explains the steps of a mark.
func suits(m *compare.Mark) string {
	clear := math.Abs(m.High.Relative) > stepClear*m.High.Uncertainty
	if m.Low != nil {
		clear = clear || math.Abs(m.Low.Relative) > stepClear*m.Low.Uncertainty
	}
	if !clear {
		return "no step stands out of the noise"
	}
	var fitting []string
	for _, q := range m.Parts {
		if q.Fit == nil || *q.Fit >= suitFloor {
			fitting = append(fitting, q.Name+" "+changed(q.Relative, q.Uncertainty))
		}
	}
	switch {
	case len(m.Parts) == 0:
		return "both times tell"
	case len(fitting) == 0:
		return "no single part's change explains both"
	}
	return "as if " + strings.Join(fitting, " or ")
}

// met lists what can be met in a stream.
var met = []struct {
	of   func(*acquire.StreamCounts) int64
	noun string
}{
	{func(c *acquire.StreamCounts) int64 { return c.Lost }, "lost edge"},
	{func(c *acquire.StreamCounts) int64 { return c.Garbage - c.Chatter }, "garbled line"},
	{func(c *acquire.StreamCounts) int64 { return c.Chatter }, "line of chatter"},
	{func(c *acquire.StreamCounts) int64 { return c.Backward }, "line with a false time"},
	{func(c *acquire.StreamCounts) int64 { return c.Doubled }, "doubled line"},
	{func(c *acquire.StreamCounts) int64 { return c.Resets }, "restart of the board's time"},
	{func(c *acquire.StreamCounts) int64 { return c.Wraps }, "wrap of its counter"},
	{func(c *acquire.StreamCounts) int64 { return c.Reconnects }, "reconnect"},
}

// Met says what was met in a stream.
func Met(c *acquire.StreamCounts) string {
	text := plural(int(c.Lines), "line") + " heard, " + plural(int(c.Edges), "edge")
	for _, m := range met {
		n := int(m.of(c))
		first, rest, _ := strings.Cut(m.noun, " ")
		switch {
		case n == 0:
			continue
		case rest == "" || !strings.HasPrefix(rest, "of") && !strings.HasPrefix(rest, "with"):
			text += ", " + plural(n, m.noun)
		default:
			text += ", " + plural(n, first) + " " + rest
		}
	}
	return text + "."
}

// cut shortens a line to the width.
func cut(s string, width int) string {
	r := []rune(s)
	if len(r) <= width {
		return s
	}
	return string(r[:width-1]) + "…"
}
