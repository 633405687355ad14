package report

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
)

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
