package document

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/compare/session"
)

// Live is how a stream that is being heard stands. Its sections are now (the times with their drift), parts (what they
// imply), causes and next (for a page), marks, trends and heard; status are the lines at its head.
func Live(sh *session.Snapshot, status ...string) *Document {
	b := &Basis{Design: sh.Design, Finding: sh.Finding}
	d := &Document{Title: b.title(), Facts: b.facts(), Answer: status}
	now, parts, trends, heard := Section{ID: "now"}, Section{ID: "parts", Heading: "Parts"}, Section{ID: "trends"}, Section{ID: "heard"}
	now.table(timesNow(sh), Always)
	if sh.Now == nil {
		now.say(Sentence, "No whole cycles yet.")
	}
	changed := changesOf(sh.Changes)
	if changed != "" {
		now.labelled(Sentence, "Changed", "the period, "+changed+".")
	}
	if sh.Finding != nil {
		if d.Subject = sh.Finding.Finding; changed != "" {
			d.Subject = "Intermittent: the period changed " + changed + ". In the last seconds: " + compare.Within(d.Subject)
		}
		parts.table(partsTable(sh.Finding.Parts), Always)
	}
	causes, next := Section{ID: "causes", Show: PageOnly}, Section{ID: "next", Show: PageOnly}
	if sh.Finding != nil {
		causes.table(causeTable(sh.Finding.Causes), Always)
		for _, q := range b.next().Blocks {
			if q.Kind != Command && q.Kind != Under { // what to type is for when the stream has ended
				next.add(q)
			}
		}
	}
	if sh.Runs != nil {
		trends.draw(func(id string) picture.Picture { return picture.Course(id, sh.Runs, driftText(&sh.Runs.Drift)) },
			func(id string) picture.Picture { return picture.Allan(id, sh.Runs) })
	}
	trends.draw(trendFigures(sh, "high_time", "low_time", "frequency", "duty_factor")...)
	heard.say(Sentence, Met(&sh.Stream))
	if sh.Failed != nil {
		heard.labelled(Sentence, "No back-solve", sh.Failed.Error()+".")
	}
	d.Sections = []Section{now, parts, causes, next, marks(sh.Marks), trends, heard}
	return d
}

// LiveLine is how a stream that is being heard stands in one line: the time in it, the times now, their drift, and the parts
// that they imply.
func LiveLine(sh *session.Snapshot) string {
	line := fmt.Sprintf("%.1f s: ", sh.Time)
	if sh.Now == nil {
		line += "no whole cycles yet; " + Met(&sh.Stream)
	} else {
		line += summary(sh.Now)
		if d := sh.Drift.Period; d != nil {
			line += "; period " + words.Changed(d.Value, d.Uncertainty) + " since the start"
		} else if d := sh.Drift.High; d != nil {
			line += "; high time " + words.Changed(d.Value, d.Uncertainty) + " since the start"
		}
		if text := changesOf(sh.Changes); text != "" {
			line += "; it changed " + text
		}
	}
	if f := sh.Finding; f != nil {
		for _, q := range f.Parts {
			line += fmt.Sprintf("; %s %s, P(out of tolerance) %s", q.Name, quantity.Format(q.Value, quantity.InJSON[q.Unit]), quantity.Probability(q.OutOfTolerance))
		}
	}
	return line
}

// heard shows how a stream ran while it was listened to, and the user's marks in it.
func (b *Basis) heard() Section {
	sh := b.Session
	s := Section{ID: "heard", Heading: "Heard"}
	if sh == nil {
		return s
	}
	s.draw(trendFigures(sh, "high_time", "low_time", "duty_factor")...)
	s.say(Sentence, Met(&sh.Stream))
	var drift []string
	for i, d := range sh.Drift.Each() {
		if d != nil && compare.Quantities[i].Key != "frequency" {
			drift = append(drift, compare.Quantities[i].Name+" "+words.Changed(d.Value, d.Uncertainty))
		}
	}
	if len(drift) > 0 {
		s.labelled(Sentence, "From the first seconds to the last", strings.Join(drift, ", ")+".")
	}
	s.add(marks(sh.Marks).Blocks...)
	return s
}

// timesNow is the table of the times as they are.
func timesNow(sh *session.Snapshot) *Table {
	t := &Table{Caption: "± is one standard uncertainty; the change is against the first seconds.",
		Columns: []Column{{}, {Head: "now", Number: true}, {Head: "since the start", Number: true}, {Head: "in tolerance", Number: true}, {Drop: 1}}, Stack: true}
	if sh.Now == nil {
		return t
	}
	measured, drift := sh.Now.Each(), sh.Drift.Each()
	var expected [5]*compare.Predicted
	if sh.Finding != nil {
		expected = sh.Finding.Predicted.Each()
	}
	for i, q := range compare.Quantities {
		m := measured[i]
		if m == nil {
			continue
		}
		row := cells(q.Name, quantity.PlusMinus(m.Value, m.Uncertainty, q.Unit), "", "", "")
		if c := drift[i]; c != nil {
			row[2].Text = words.Changed(c.Value, c.Uncertainty)
		}
		if e := expected[i]; e != nil {
			row[3].Text, row[4].Text = quantity.Span(e.Low, e.High, q.Unit), quantity.Side(m.Value, e.Low, e.High)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// marks lists the user's marks, each with its steps and the part that they suit best.
func marks(all []compare.Mark) Section {
	s := Section{ID: "marks", Heading: "Marks"}
	for i := range all {
		m := &all[i]
		s.say(Step, fmt.Sprintf("at %.1f s, %s: %s", m.Time, m.Text, stepsOf(m)))
	}
	return s
}

// trendFigures draw the run of the times that are named and of each part.
func trendFigures(sh *session.Snapshot, keys ...string) []Figure {
	var marks []picture.TrendMark
	for _, m := range sh.Marks {
		marks = append(marks, picture.TrendMark{Number: m.Number, Time: m.Time})
	}
	var out []Figure
	draw := func(r picture.TrendRun) {
		r.Marks = marks
		out = append(out, func(id string) picture.Picture { return picture.Trend(id, r) })
	}
	var runs [5]picture.TrendRun
	for _, p := range sh.Points {
		t := session.TimesOf(p)
		for i, m := range t.Each() {
			if m != nil {
				r := &runs[i]
				r.Points = append(r.Points, picture.TrendPoint{Time: p.Time(), Value: m.Value, Low: m.Value - 2*m.Uncertainty, High: m.Value + 2*m.Uncertainty})
			}
		}
	}
	if sh.Now != nil {
		now := sh.Now.Each()
		for i, r := range compare.Quantities {
			if now[i] == nil || !slices.Contains(keys, r.Key) {
				continue
			}
			runs[i].Name, runs[i].Unit, runs[i].Now = compare.Sentence(r.Name), r.Unit, quantity.Uncertain(now[i].Value, now[i].Uncertainty, r.Unit)
			draw(runs[i])
		}
	}
	for _, q := range sh.Parts {
		u := quantity.InJSON[q.Unit]
		r := picture.TrendRun{Name: q.Name, Unit: u, Now: quantity.Format(q.Value, u), Limits: q.Limits}
		for i, at := range q.Time {
			r.Points = append(r.Points, picture.TrendPoint{Time: at, Value: q.Median[i], Low: q.Interval[i][0], High: q.Interval[i][1]})
		}
		draw(r)
	}
	return out
}

// stepsOf says what happened at a mark.
func stepsOf(m *compare.Mark) string {
	if m.High == nil {
		return m.Note
	}
	text := "high time " + words.Changed(m.High.Relative, m.High.Uncertainty)
	if m.Low != nil {
		text += ", low time " + words.Changed(m.Low.Relative, m.Low.Uncertainty)
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
			fitting = append(fitting, q.Name+" "+words.Changed(q.Relative, q.Uncertainty))
		}
	}
	switch {
	case len(m.Parts) == 0:
		return "both times changed"
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
	text := quantity.Plural(int(c.Lines), "line") + " heard, " + quantity.Plural(int(c.Edges), "edge")
	for _, m := range met {
		n := int(m.of(c))
		first, rest, _ := strings.Cut(m.noun, " ")
		switch {
		case n == 0:
			continue
		case rest == "" || !strings.HasPrefix(rest, "of") && !strings.HasPrefix(rest, "with"):
			text += ", " + quantity.Plural(n, m.noun)
		default:
			text += ", " + quantity.Plural(n, first) + " " + rest
		}
	}
	return text + "."
}
