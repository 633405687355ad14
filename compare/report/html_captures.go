package report

import (
	"fmt"
	"sort"

	"offbeat/acquire/quantity"
	"offbeat/compare/report/picture"
	"offbeat/fit"
)

// captures draws what was recorded and how sure its times are: everything of the first capture, the record
// alone of the others. A page about what to fit leaves that to the board's own page.
func (p *Page) captures(a *album) *section {
	if p.Proposals != nil {
		return nil
	}
	s := &section{ID: "captures", Heading: "The capture, and how sure its times are", Layout: mosaic}
	const most = 2 // more would crowd out the rest of a printed page; the table of captures lists them all
	for i, m := range p.Measurements {
		if f := p.Finding; f != nil && f.Measured.Low == nil { // a single pulse: its low time belongs to the trigger
			high := *m
			high.Low.Count = 0
			m = &high
		}
		if i == most {
			s.Points = append(s.Points, fmt.Sprintf("The first %d of %d captures are drawn; the table below lists all of them.", most, len(p.Measurements)))
			break
		}
		var t *picture.Trace
		if i < len(p.Traces) {
			t = p.Traces[i]
		}
		if t != nil {
			s.Pictures = append(s.Pictures, placed(picture.Capture(a.id(), t, m)))
		}
		if i == 0 {
			p.closely(s, a, t, m)
		}
	}
	if len(s.Pictures) == 0 {
		return nil
	}
	return s
}

// closely draws a capture's cycles and its uncertainty budget: of the period, or of the high time of a single
// pulse. Of a stream that was heard its run is drawn elsewhere.
func (p *Page) closely(s *section, a *album, t *picture.Trace, m *fit.Measurement) {
	if t != nil {
		if cycle, ok := picture.Cycle(a.id(), t, m); ok {
			s.Pictures = append(s.Pictures, placed(cycle))
		}
	}
	if times, ok := picture.Times(a.id(), m); ok && p.Session == nil {
		s.Pictures = append(s.Pictures, placed(times))
	}
	if len(m.Budget) == 0 {
		return
	}
	of, name, whole := func(t fit.Term) float64 { return t.Period }, "period", m.Period()
	if m.Low.Count == 0 {
		of, name, whole = func(t fit.Term) float64 { return t.High }, "high time", m.WithClock(m.High)
	}
	terms := append([]fit.Term{}, m.Budget...)
	sort.SliceStable(terms, func(i, k int) bool { return of(terms[i]) > of(terms[k]) })
	var bars []picture.Bar
	for i, r := range terms {
		if i == 0 || of(r) >= 0.01*whole.Uncertainty {
			bars = append(bars, picture.Bar{Name: sentence(r.Name), Value: of(r)})
		}
	}
	bars = append(bars, picture.Bar{Name: "Combined", Value: whole.Uncertainty, Total: true})
	caption := fmt.Sprintf("What each source adds to the standard uncertainty of the %s, the largest first. The longest bar is the one worth shortening: they add by their squares. What is below a hundredth of the whole is left to the table.", name)
	s.Pictures = append(s.Pictures, placed(picture.Bars(a.id(), "Uncertainty budget of the "+name, caption, quantity.Second, bars)))
	s.Tables = append(s.Tables, budgetOf(m, terms))
}

// negligible is the share of the whole below which a term of a budget is written as nothing.
const negligible = 1e-6

// termText writes a term of a budget with the two digits of an uncertainty.
func termText(m *fit.Measurement, x float64) string {
	if x < negligible*m.WithClock(m.High).Uncertainty {
		return "0"
	}
	return quantity.Uncertain(x, x, quantity.Second)
}

// budgetOf is a measurement's budget as a table.
func budgetOf(m *fit.Measurement, terms []fit.Term) table {
	t := table{Caption: "Standard uncertainties (JCGM 100). A: from the cycles; B: from what is known of the instrument.",
		Heads: []head{{"source", false}, {"kind", false}, {"high", true}, {"low", true}, {"period", true}}}
	second := func(x float64) entry { return entry{Text: termText(m, x), Number: true} }
	for _, r := range terms {
		row := []entry{{Text: sentence(r.Name)}, {Text: r.Kind + ", " + r.Distribution}, second(r.High), second(r.Low), second(r.Period)}
		if m.Low.Count == 0 {
			row = row[:3]
		}
		t.Rows = append(t.Rows, row)
	}
	if m.Low.Count == 0 {
		t.Heads = t.Heads[:3]
	}
	return t
}
