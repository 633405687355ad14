package document

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/fit"
)

// run is one capture's measurement with the trace that was kept of it; what there is not is nil.
type run struct {
	trace       *picture.Trace
	measurement *fit.Measurement
}

func (b *Basis) runAt(i int) run {
	var r run
	if i < len(b.Measurements) {
		r.measurement = b.Measurements[i]
	}
	if i < len(b.Traces) {
		r.trace = b.Traces[i]
	}
	if f := b.Finding; f != nil && f.Measured.Low == nil && r.measurement != nil { // a single pulse: its low time belongs to the trigger
		high := *r.measurement
		high.Low.Count = 0
		r.measurement = &high
	}
	return r
}

func (b *Basis) run() run { return b.runAt(0) }

// summary is a pulse train in one line.
func summary(t *compare.Times[compare.Measured]) string {
	if t.Frequency == nil {
		return "high " + quantity.Uncertain(t.High.Value, t.High.Uncertainty, quantity.Second)
	}
	return fmt.Sprintf("%s, duty factor %s, high %s, low %s",
		quantity.Uncertain(t.Frequency.Value, t.Frequency.Uncertainty, quantity.Hertz),
		quantity.Uncertain(t.Duty.Value, t.Duty.Uncertainty, quantity.Number),
		quantity.Uncertain(t.High.Value, t.High.Uncertainty, quantity.Second),
		quantity.Uncertain(t.Low.Value, t.Low.Uncertainty, quantity.Second))
}

// levels says between which levels the pulses were found, and what was left out.
func levels(s *Section, m *fit.Measurement) {
	l, cycles := m.Levels, quantity.Plural(m.Cycles, "whole cycle")
	unit, known := picture.LevelUnit(&l)
	v := quantity.ScaleOf(unit, l.Amplitude()/9.9, l.Low, l.High) // a tenth of the swing has two digits
	text := fmt.Sprintf("%s and %s, reference %s; ", v.Digits(l.Low), v.Format(l.High), v.Format(l.Reference))
	switch {
	case l.States:
		text = "logic states; "
	case l.Unit == acquire.CountUnit:
		text = quantity.Minus(fmt.Sprintf("%.0f and %.0f counts, reference %.1f; ", l.Low, l.High, l.Reference))
	case !known:
		text = quantity.Minus(fmt.Sprintf("%.4g and %.4g in the file's own unit, reference %.4g; ", l.Low, l.High, l.Reference))
	}
	s.labelled(Sentence, "Levels", text+cycles+".")
	if text := faults(m.Faults); text != "" {
		s.labelled(Sentence, "Excluded", text+".")
	}
	if !math.IsNaN(l.Noise) && l.Noise != 0 && known {
		s.add(Block{Label: "Noise about the levels", Text: quantity.Format(l.Noise, unit) + ".", Show: Detail})
	}
}

// faults lists what was met in the train and left out; the partial pulses at the ends always are.
func faults(f fit.Faults) string {
	var all []string
	for _, k := range []struct {
		n         int
		one, many string
	}{
		{f.Partial, "partial pulse", "partial pulses"},
		{f.Runts, "runt", "runts"},
		{f.Glitches, "glitch", "glitches"},
		{f.Dropped, "dropped edge pair", "dropped edge pairs"},
		{f.Unknown, "pulse with unknown samples", "pulses with unknown samples"},
	} {
		switch {
		case k.n == 1:
			all = append(all, "1 "+k.one)
		case k.n > 1:
			all = append(all, fmt.Sprintf("%d %s", k.n, k.many))
		}
	}
	return strings.Join(all, ", ")
}

// drawn is how many captures have pictures: more would crowd out the rest of a printed page.
const drawn = 2

// captures draws what was recorded and how sure its times are: everything of the first capture, the record alone of the
// others. A document about what to fit leaves that to the board's own.
func (b *Basis) captures() Section {
	s := Section{ID: "captures", Heading: "The capture, and how sure its times are"}
	if b.Proposals != nil {
		return s
	}
	for i := range b.Measurements[:min(drawn, len(b.Measurements))] {
		b.pictures(&s, b.runAt(i), i == 0)
	}
	if r := b.run(); r.measurement != nil {
		s.table(budgetTable(r.measurement), Detail)
	}
	return s
}

// pictures draw a capture: its record, and closely also its cycles and its uncertainty budget, of the period or of the high
// time of a single pulse. Of a stream that was heard its run is drawn elsewhere.
func (b *Basis) pictures(s *Section, r run, closely bool) {
	m := r.measurement
	if m == nil {
		return
	}
	s.Layout = Mosaic
	if r.trace != nil {
		s.draw(func(id string) picture.Picture { return picture.Capture(id, r.trace, m) })
	}
	if !closely {
		return
	}
	if r.trace != nil {
		s.draw(func(id string) picture.Picture { return picture.Cycle(id, r.trace, m) })
	}
	if b.Session == nil {
		s.draw(func(id string) picture.Picture { return picture.Times(id, m) })
	}
	if len(m.Budget) > 0 {
		s.draw(func(id string) picture.Picture { return budgetBars(id, m) })
	}
}

// largestFirst are the terms of a measurement's budget with the share of each in what it is read for: the period, or the
// high time of a single pulse.
func largestFirst(m *fit.Measurement) (terms []fit.Term, of func(fit.Term) float64, name string, whole fit.Estimate) {
	of, name, whole = func(t fit.Term) float64 { return t.Period }, "period", m.Period()
	if m.Low.Count == 0 {
		of, name, whole = func(t fit.Term) float64 { return t.High }, "high time", m.WithClock(m.High)
	}
	terms = append(terms, m.Budget...)
	sort.SliceStable(terms, func(i, k int) bool { return of(terms[i]) > of(terms[k]) })
	return terms, of, name, whole
}

func budgetBars(id string, m *fit.Measurement) picture.Picture {
	terms, of, name, whole := largestFirst(m)
	var bars []picture.Bar
	for i, r := range terms {
		if i == 0 || of(r) >= 0.01*whole.Uncertainty {
			bars = append(bars, picture.Bar{Name: compare.Sentence(r.Name), Value: of(r)})
		}
	}
	bars = append(bars, picture.Bar{Name: "Combined", Value: whole.Uncertainty, Total: true})
	caption := fmt.Sprintf("What each source adds to the standard uncertainty of the %s, the largest first. The longest bar is the one worth shortening: they add by their squares. What is below a hundredth of the whole is left to the table.", name)
	return picture.Bars(id, "Uncertainty budget of the "+name, caption, quantity.Second, bars)
}

// budgetTable lists where the uncertainty of the times comes from (JCGM 100 5.1).
func budgetTable(m *fit.Measurement) *Table {
	t := &Table{Caption: "Uncertainty budget: standard uncertainties (JCGM 100). A: from the cycles; B: from what is known of the instrument.",
		Columns: []Column{{Head: "source"}, {Head: "kind"}, {Head: "high", Number: true}, {Head: "low", Number: true}, {Head: "period", Number: true}}}
	if m.Low.Count == 0 {
		t.Columns = t.Columns[:3]
	}
	const negligible = 1e-6 // share of the whole below which a term is written as zero
	second := func(x float64) string {
		if x < negligible*m.WithClock(m.High).Uncertainty {
			return "0"
		}
		return quantity.Uncertain(x, x, quantity.Second)
	}
	terms, _, _, _ := largestFirst(m)
	for _, r := range terms {
		t.Rows = append(t.Rows, cells(compare.Sentence(r.Name), r.Kind+", "+r.Distribution, second(r.High), second(r.Low), second(r.Period))[:len(t.Columns)])
	}
	return t
}

// captureList says what was read and how it was recognised.
func captureList(all []compare.Capture) Section {
	s := Section{ID: "basis", Heading: "Captures", Show: Detail}
	t := &Table{Columns: []Column{{Head: "source", Given: true}, {Head: "shape"}, {Head: "rows", Number: true}, {Head: "cycles", Number: true}, {Head: "high", Number: true}, {Head: "low", Number: true}}, Stack: true}
	for i := range all {
		c := &all[i]
		rows := fmt.Sprint(c.Rows)
		if c.Skipped > 0 {
			rows += fmt.Sprintf(", %d skipped", c.Skipped)
		}
		row := cells(words.Source(c, all), c.Shape, rows, "", "", "")
		if c.Cycles > 0 {
			row[3].Text = fmt.Sprint(c.Cycles)
		}
		if c.Measured != nil {
			for k, q := range []*compare.Measured{c.Measured.High, c.Measured.Low} {
				if q != nil {
					row[4+k].Text = quantity.Uncertain(q.Value, q.Uncertainty, quantity.Second)
				}
			}
		}
		t.Rows = append(t.Rows, row)
	}
	s.table(t, Always)
	for i := range all {
		for _, e := range all[i].Evidence {
			s.labelled(Point, "because", e)
		}
	}
	return s
}
