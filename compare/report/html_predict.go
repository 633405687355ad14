package report

import (
	"fmt"
	"sort"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/report/picture"
	"offbeat/fit/predict"
)

// promise draws what the design promises; on a board's page the table of times says it already.
func (p *Page) promise(a *album) *section {
	r := p.Prediction
	if r == nil || p.Finding != nil {
		return nil
	}
	s := &section{ID: "promise", Heading: "What the design promises", Layout: flow}
	t := table{Caption: "First order: the timer ideal. Nominal: the timer typical. Worst case and root-sum-square: the parts in tolerance. 95 %: parts, supply and timer drawn at random.",
		Heads: []head{{"", false}, {"first order", true}, {"nominal", true}, {"worst case", true}, {"root-sum-square", true}, {"95 % of boards", true}}, Stack: true}
	var rows []picture.Band
	for i, b := range r.Bands {
		if i > 0 && r.OnePulse {
			break
		}
		q := timeRows[i]
		t.Rows = append(t.Rows, []entry{{Text: q.name}, {Text: among(b.FirstOrder, b.Worst[0], b.Worst[1], q.unit), Number: true}, {Text: among(b.Nominal, b.Worst[0], b.Worst[1], q.unit), Number: true},
			{Text: span(b.Worst[0], b.Worst[1], q.unit), Number: true}, {Text: span(b.RSS[0], b.RSS[1], q.unit), Number: true}, {Text: span(b.MonteCarlo[0], b.MonteCarlo[1], q.unit), Number: true}})
		row := picture.Band{Name: sentence(q.name), Word: among(b.Nominal, b.Worst[0], b.Worst[1], q.unit), Unit: q.unit, Reference: b.Nominal, Nominal: b.Nominal, Ideal: b.FirstOrder, Worst: b.Worst, RSS: b.RSS, Likely: b.MonteCarlo}
		for _, g := range p.targets() {
			if g.Quantity == q.key {
				row.Limits = [2]float64{g.Low, g.High}
			}
		}
		rows = append(rows, row)
	}
	caption := "Deviation from nominal (the tick). The bracket is the worst case of the parts, the open bar their root-sum-square, the solid bar holds 95 % of boards with the timer's spread; the diamond is the first-order formula. Hatched: the target, where one is set. A solid bar inside the hatching is a design that works without selecting parts."
	s.Pictures = []drawing{placed(picture.Bands(a.id(), "What the design promises", caption, rows))}
	s.Pictures = append(s.Pictures, placed(budgetBars(a.id(), r)))
	s.Tables = []table{t, budgetTable(r)}
	return s
}

// judged is the quantity whose budget is drawn: the frequency, or the only time of a single pulse.
func judged(r *predict.Result) int {
	if r.OnePulse {
		return 0
	}
	return 3
}

// budgetBars draws what each input's spread does to the frequency.
func budgetBars(id string, r *predict.Result) picture.Picture {
	q := judged(r)
	rows := append([]predict.Row{}, r.Budget...)
	sort.SliceStable(rows, func(i, k int) bool { return rows[i].Effect[q] > rows[k].Effect[q] })
	var bars []picture.Bar
	for _, b := range rows {
		if b.Effect[q] >= 0.01*rows[0].Effect[q] {
			bars = append(bars, picture.Bar{Name: sentence(b.Input), Value: b.Effect[q]})
		}
	}
	caption := fmt.Sprintf("What each input's standard uncertainty does to the %s, the largest first. A tighter part pays only at the top of this list. What is below a hundredth of the first is left to the table.", timeRows[q].name)
	return picture.Bars(id, "Where the spread of the "+timeRows[q].name+" comes from", caption, quantity.Number, bars)
}

// budgetTable lists every input with its source.
func budgetTable(r *predict.Result) table {
	q := judged(r)
	t := table{Caption: "Relative standard uncertainty that each input gives; the shift is what its typical value does against the ideal timer.",
		Heads: []head{{"input", false}, {timeRows[q].name, true}, {"shift", true}, {"distribution", false}, {"source", false}}, Stack: true}
	for _, b := range r.Budget {
		shift := ""
		if b.Shift[q] != 0 {
			shift = strings.Replace(fmt.Sprintf("%+.2g %%", 100*b.Shift[q]), "-", "\u2212", 1)
		}
		t.Rows = append(t.Rows, []entry{{Text: sentence(b.Input)}, {Text: relative(b.Effect[q]), Number: true}, {Text: shift, Number: true}, {Text: b.Distribution}, {Text: b.Source}})
	}
	return t
}
