package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// facts are the lines under the title: what the board is.
func (p *Page) facts() []string {
	d := p.Design
	name := d.Circuit
	if c, err := circuit.Lookup(d.Circuit); err == nil {
		name = c.Title
	}
	line := name
	if d.Supply.Value > 0 {
		line += ", " + reading(d.Supply, quantity.Volt)
	}
	if d.Family != "" {
		line += ", " + d.Family + " timer"
	}
	var parts []string
	for _, q := range d.Parts {
		unit := quantity.Ohm
		if q.Kind == fit.Capacitor {
			unit = quantity.Farad
		}
		parts = append(parts, q.Name+" "+quantity.Quantity{Value: q.Nominal, Unit: unit, Tolerance: quantity.Tolerance{Minus: q.Minus, Plus: q.Plus, Relative: true}}.String())
	}
	out := []string{line, strings.Join(parts, ", ")}
	var wanted []string
	for _, t := range d.Targets {
		u := unitOf(t.Quantity)
		wanted = append(wanted, fmt.Sprintf("%s %s (%s)", spaced(t.Quantity), quantity.Format(t.Value, u), span(t.Low, t.High, u)))
	}
	if len(wanted) > 0 {
		out = append(out, "Target: "+strings.Join(wanted, ", "))
	}
	return out
}

// reading writes a value with its limits or its standard uncertainty.
func reading(r fit.Reading, unit quantity.Unit) string {
	switch {
	case r.Standard > 0:
		return quantity.PlusMinus(r.Value, r.Standard, unit)
	case r.Half > 0:
		return quantity.Format(r.Value, unit) + " ± " + relative(r.Half/r.Value)
	}
	return quantity.Format(r.Value, unit)
}

// unitOf is the unit of one of the five quantities, by its JSON name.
func unitOf(key string) quantity.Unit {
	for _, t := range timeRows {
		if t.key == key {
			return t.unit
		}
	}
	return quantity.Number
}

func (p *Page) targets() []fit.Target {
	if p.Design == nil {
		return nil
	}
	return p.Design.Targets
}

// sentence starts with a capital.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// times sets measured against expected, and draws the verdict.
func (p *Page) times(a *album) *section {
	f := p.Finding
	if f == nil && len(p.Captures) > 0 {
		return &section{ID: "times", Heading: "Measured", Layout: flow, Tables: []table{p.measuredTable()}}
	}
	if f == nil || f.Measured.High == nil {
		return nil
	}
	s := &section{ID: "times", Heading: "Measured against expected", Layout: pair, Tables: []table{p.timesTable()}}
	if len(f.Verdict.Each) == 0 {
		s.Points, s.Layout = []string{"No target is set, so there is no verdict."}, flow
		return s
	}
	var rows []picture.Band
	for _, v := range f.Verdict.Each {
		b := p.verdictBand(v)
		rows = append(rows, b)
		s.Points = append(s.Points, fmt.Sprintf("%s: %s. Limits %s; probability of lying within them %s.",
			sentence(spaced(v.Quantity)), v.Result, span(v.Limits[0], v.Limits[1], b.Unit), Percent(v.ProbabilityIn)))
	}
	s.Points = append(s.Points, "Rule: "+f.Verdict.Rule+".")
	caption := "The dot is the measured value with its expanded uncertainty (k = 2). Hatched: the target's limits, the guard band dashed inside them. The bracket above is what the parts' tolerances allow, the tick their nominal prediction. A dot clear of the dashes on the inside passes."
	s.Pictures = []drawing{placed(picture.Bands(a.id(), "Measured against the target", caption, rows))}
	return s
}

// measuredTable lists the times of captures that no design judges, a line a quantity: a phone is narrow.
func (p *Page) measuredTable() table {
	t := table{Caption: "± is one standard uncertainty.", Heads: []head{{"", false}}}
	rows := make([][]entry, len(timeRows))
	for i, q := range timeRows {
		rows[i] = []entry{{Text: q.name}}
	}
	for k, c := range p.Captures {
		if k == capturesAbreast {
			t.Caption += fmt.Sprintf(" The first %d of %d captures; their means stand in the table of captures below.", k, len(p.Captures))
			break
		}
		t.Heads = append(t.Heads, head{SourceOf(c, p.Captures), true})
		for i, m := range pick(c.Measured) {
			e := entry{Number: true}
			if m != nil {
				e.Text = quantity.PlusMinus(m.Value, m.Uncertainty, timeRows[i].unit)
			}
			rows[i] = append(rows[i], e)
		}
	}
	t.Rows = rows
	return t
}

// capturesAbreast is how many captures stand side by side in a table.
const capturesAbreast = 3

// verdictBand is the row of one judged quantity.
func (p *Page) verdictBand(v compare.QuantityVerdict) picture.Band {
	b := picture.Band{Unit: unitOf(v.Quantity), Limits: v.Limits, Guard: v.GuardBand, Measured: v.Value, Expanded: 2 * v.Uncertainty, Word: v.Result}
	predicted := pick(&p.Finding.Predicted)
	for i, t := range timeRows {
		if t.key == v.Quantity && predicted[i] != nil {
			b.Worst, b.Nominal = [2]float64{predicted[i].Low, predicted[i].High}, predicted[i].Nominal
		}
	}
	b.Name = fmt.Sprintf("%s %s", sentence(spaced(v.Quantity)), quantity.Uncertain(v.Value, v.Uncertainty, b.Unit))
	b.Reference = (v.Limits[0] + v.Limits[1]) / 2
	for _, t := range p.targets() {
		if t.Quantity == v.Quantity && t.Value > 0 {
			b.Reference = t.Value
		}
	}
	return b
}

// timesTable sets the measured times beside the promised ones.
func (p *Page) timesTable() table {
	t := table{Caption: "± is one standard uncertainty. The range is the worst case of the parts' tolerances.",
		Heads: []head{{"", false}, {"measured", true}, {"nominal", true}, {"parts in tolerance", true}, {"deviation", true}}, Stack: true}
	measured, predicted := pick(&p.Finding.Measured), pick(&p.Finding.Predicted)
	for i, q := range timeRows {
		m := measured[i]
		if m == nil {
			continue
		}
		row := []entry{{Text: q.name}, {Text: quantity.PlusMinus(m.Value, m.Uncertainty, q.unit), Number: true}, {Number: true}, {Number: true}, {Number: true}}
		if e := predicted[i]; e != nil {
			row[2].Text, row[3].Text = among(e.Nominal, e.Low, e.High, q.unit), span(e.Low, e.High, q.unit)
			row[4].Text = deviation(m.Value, m.Uncertainty, e.Nominal)
			row[4].Mark = m.Value < e.Low || m.Value > e.High
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// groupsTable lists what the times pin down.
func (p *Page) groupsTable() table {
	t := table{Caption: "Products and ratios that the times fix by themselves, with no assumption about any part.",
		Heads: []head{{"group", false}, {"value", true}, {"nominal", true}, {"deviation", true}}}
	for _, g := range p.Finding.Groups {
		u := units[g.Unit]
		value, nominal := quantity.PlusMinus(g.Value, g.Uncertainty, u), quantity.Format(g.Nominal, u)
		if u == quantity.Number {
			value, nominal = quantity.Bare(g.Value, g.Uncertainty), short(g.Nominal)
		}
		t.Rows = append(t.Rows, []entry{{Text: product(g.Group)}, {Text: value, Number: true}, {Text: nominal, Number: true}, {Text: deviation(g.Value, g.Uncertainty, g.Nominal), Number: true}})
	}
	return t
}

// product writes a group's name for reading.
func product(name string) string { return strings.ReplaceAll(name, "*", " × ") }

// deviation is a relative difference in per cent, with the digits that the standard uncertainty u of x warrants but no
// more than hundredths.
func deviation(x, u, nominal float64) string {
	const floor = 1e-3 // its second digit is a hundredth of a per cent
	r := x/nominal - 1
	if math.Abs(r) >= 9.95 {
		return fmt.Sprintf("× %.3g", x/nominal)
	}
	text := quantity.ScaleOf(quantity.Number, max(u/nominal, floor), r).Format(r)
	if r > 0 && strings.ContainsAny(text, "123456789") {
		text = "+" + text
	}
	return strings.Replace(text, "-", "\u2212", 1)
}

// causes draws the plane beside the list.
func (p *Page) causes(a *album) *section {
	f := p.Finding
	if f == nil || len(f.Causes) == 0 {
		return nil
	}
	s := &section{ID: "causes", Heading: "Causes", Layout: pair}
	if f.Reasoning != "" {
		s.Points = []string{f.Reasoning}
	}
	if p.Evidence != nil {
		plane := plane(f, p.Evidence)
		s.Pictures = []drawing{placed(plane.Draw(a.id()))}
	}
	t := table{Caption: "Prior odds are against nothing being wrong = 1.", Heads: []head{{"cause", false}, {"probability", false}, {"prior odds", true}}}
	small, rest := 0, 0.0
	for i, c := range f.Causes {
		if c.Probability < causeFloor && i > 0 {
			small, rest = small+1, rest+c.Probability
			continue
		}
		t.Rows = append(t.Rows, []entry{{Text: causeName(c), More: sentence(c.Detail)}, {Text: Percent(c.Probability), Bar: c.Probability}, {Text: short(c.PriorOdds), Number: true}})
	}
	if small > 0 {
		t.Rows = append(t.Rows, []entry{{Text: plural(small, "other cause"), More: "Each below 1 %"}, {Text: Percent(rest), Bar: rest}, {Number: true}})
	}
	s.Tables = []table{t}
	s.Points = append(s.Points, beyondTheList(f.Confounded)...)
	return s
}

// causeTitles name the causes in a table whose next column explains them.
var causeTitles = map[string]string{
	"nothing":     "nothing wrong",
	"shifted":     "out of tolerance",
	"other value": "of another value",
	"exchanged":   "exchanged",
	"leakage":     "leaking",
	"thresholds":  "thresholds moved",
	"discharge":   "weak discharge switch",
	"clock":       "instrument clock",
	"unexplained": "none of these",
}

func causeName(c compare.Cause) string {
	name := causeTitles[c.Cause]
	if len(c.Parts) == 0 {
		return sentence(name)
	}
	return strings.Join(c.Parts, ", ") + " " + name
}

// parts draws what each part likely is.
func (p *Page) parts(a *album) *section {
	f := p.Finding
	if f == nil || len(f.Parts) == 0 {
		return nil
	}
	s := &section{ID: "parts", Heading: "Parts", Layout: pair}
	if p.Evidence != nil && len(p.Evidence.Result.Samples) > 0 {
		s.Pictures = []drawing{placed(picture.Parts(a.id(), p.partValues()))}
	}
	t := table{Caption: "Over all causes together.", Heads: []head{{"part", false}, {"design", true}, {"likely", true}, {"95 % interval", true}, {"out of tolerance", true}}, Stack: true}
	for _, q := range f.Parts {
		u := units[q.Unit]
		t.Rows = append(t.Rows, []entry{{Text: q.Name}, {Text: toleranceOf(q), Number: true}, {Text: among(q.Value, q.Interval95[0], q.Interval95[1], u), Number: true},
			{Text: span(q.Interval95[0], q.Interval95[1], u), Number: true}, {Text: Percent(q.OutOfTolerance), Number: true, Mark: q.OutOfTolerance > 0.5}})
	}
	s.Tables = []table{t}
	if t := sinceTable(f); len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	if t := p.groupsTable(); len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	return s
}

// partValues takes the samples apart by part.
func (p *Page) partValues() []picture.PartValue {
	samples := p.Evidence.Result.Samples
	weights := make([]float64, len(samples))
	for k := range samples {
		weights[k] = samples[k].Weight
	}
	var out []picture.PartValue
	for i, q := range p.Finding.Parts {
		v := picture.PartValue{Name: q.Name, Unit: units[q.Unit], Nominal: q.Nominal, Low: q.Limits[0], High: q.Limits[1],
			Value: q.Value, Interval: q.Interval95, OutOfTolerance: q.OutOfTolerance, Weights: weights, Values: make([]float64, len(samples))}
		for k := range samples {
			v.Values[k] = samples[k].Values[i]
		}
		out = append(out, v)
	}
	return out
}

// next lists what to read next.
func (p *Page) next() *section {
	f := p.Finding
	if f == nil || f.Latch != nil || p.Proposals != nil {
		return nil
	}
	s := &section{ID: "next", Heading: "Next reading", Layout: flow}
	if len(f.Next) == 0 {
		s.Lead = "No reading of the usual ones would tell much more."
		return s
	}
	t := table{Caption: "Best first: most information a minute. A bit halves the doubt between two equal causes.",
		Heads: []head{{"reading, and how to take it safely", false}, {"information", true}, {"effort", true}}}
	for _, n := range f.Next {
		t.Rows = append(t.Rows, []entry{{Text: sentence(n.Reading), More: howTo(n)}, {Text: bits(n.Information), Number: true}, {Text: short(n.Effort) + " min", Number: true}})
	}
	s.Tables = []table{t}
	return s
}

// howTo is the safe way to take a reading, and how to hand it in.
func howTo(n compare.Next) string {
	if n.Enter == "" {
		return n.Caution
	}
	return strings.TrimSpace(n.Caution + " Then: " + n.Enter)
}

// bits writes an information to a hundredth, or to a tenth from one bit on: it is estimated to some hundredths.
func bits(x float64) string {
	if x > 0.995 {
		return fmt.Sprintf("%.1f bit", x)
	}
	return fmt.Sprintf("%.2f bit", x)
}

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

// basis says what was read, and what to know before believing the numbers.
func (p *Page) basis() *section {
	captures, warnings := p.Captures, append([]string{}, p.Warnings...)
	if p.Finding != nil {
		captures, warnings = p.Finding.Captures, append(warnings, p.Finding.Warnings...)
	}
	s := &section{ID: "basis", Heading: "What this rests on", Layout: flow}
	if len(captures) > 0 {
		t := table{Caption: "Captures read.", Heads: []head{{"source and shape", false}, {"rows", true}, {"cycles", true}, {"high", true}, {"low", true}}}
		for _, c := range captures {
			rows := fmt.Sprint(c.Rows)
			if c.Skipped > 0 {
				rows += fmt.Sprintf(", %d skipped", c.Skipped)
			}
			row := []entry{{Text: SourceOf(c, captures), More: sentence(c.Shape)}, {Text: rows, Number: true}, {Number: true}, {Number: true}, {Number: true}}
			if c.Cycles > 0 {
				row[2].Text = fmt.Sprint(c.Cycles)
			}
			if c.Measured != nil {
				for i, q := range []*compare.Measured{c.Measured.High, c.Measured.Low} {
					if q != nil {
						row[3+i].Text = quantity.Uncertain(q.Value, q.Uncertainty, quantity.Second)
					}
				}
			}
			t.Rows = append(t.Rows, row)
			for _, n := range c.Notes {
				if len(captures) > 1 {
					n = SourceOf(c, captures) + ": " + n
				}
				s.Points = append(s.Points, n)
			}
		}
		s.Tables = []table{t}
	}
	s.Points = append(s.Points, warnings...)
	if p.Prediction != nil {
		s.Points = append(s.Points, p.Prediction.Warnings...)
	}
	s.Points = unique(s.Points)
	if len(s.Points) == 0 && len(s.Tables) == 0 {
		return nil
	}
	return s
}

// unique keeps the first of equal lines.
func unique(in []string) []string {
	seen := map[string]bool{}
	var out []string
	for _, s := range in {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}
