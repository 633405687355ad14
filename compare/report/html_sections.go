package report

import (
	"fmt"
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
	if c, err := circuit.Of(d); err == nil {
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
		t.Rows = append(t.Rows, []entry{{Text: sentence(c.Detail)}, {Text: Percent(c.Probability), Bar: c.Probability}, {Text: short(c.PriorOdds), Number: true}})
	}
	if small > 0 {
		t.Rows = append(t.Rows, []entry{{Text: plural(small, "other cause"), More: "Each below 1 %"}, {Text: Percent(rest), Bar: rest}, {Number: true}})
	}
	s.Tables = []table{t}
	s.Points = append(s.Points, beyondTheList(f.Confounded)...)
	return s
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
