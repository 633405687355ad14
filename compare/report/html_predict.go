package report

import (
	"fmt"
	"sort"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
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
		Heads: []head{{"", false}, {"first order", true}, {"nominal", true}, {"worst case", true}, {"root-sum-square", true}, {"95 % of boards", true}}}
	var rows []picture.Band
	for i, b := range r.Bands {
		if i > 0 && r.OnePulse {
			break
		}
		q := timeRows[i]
		t.Rows = append(t.Rows, []entry{{Text: q.name}, {Text: quantity.Format(b.FirstOrder, q.unit), Number: true}, {Text: quantity.Format(b.Nominal, q.unit), Number: true},
			{Text: span(b.Worst[0], b.Worst[1], q.unit), Number: true}, {Text: span(b.RSS[0], b.RSS[1], q.unit), Number: true}, {Text: span(b.MonteCarlo[0], b.MonteCarlo[1], q.unit), Number: true}})
		row := picture.Band{Name: sentence(q.name), Word: quantity.Format(b.Nominal, q.unit), Unit: q.unit, Reference: b.Nominal, Nominal: b.Nominal, Ideal: b.FirstOrder, Worst: b.Worst, RSS: b.RSS, Likely: b.MonteCarlo}
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
		Heads: []head{{"input", false}, {timeRows[q].name, true}, {"shift", true}, {"distribution", false}, {"source", false}}}
	for _, b := range r.Budget {
		shift := ""
		if b.Shift[q] != 0 {
			shift = strings.Replace(fmt.Sprintf("%+.2g %%", 100*b.Shift[q]), "-", "\u2212", 1)
		}
		t.Rows = append(t.Rows, []entry{{Text: sentence(b.Input)}, {Text: relative(b.Effect[q]), Number: true}, {Text: shift, Number: true}, {Text: b.Distribution}, {Text: b.Source}})
	}
	return t
}

// proposals draws what to fit.
func (p *Page) proposals(a *album) *section {
	if len(p.Proposals) == 0 {
		return nil
	}
	s := &section{ID: "retune", Heading: "What to fit", Layout: pair}
	t := table{Caption: "Best first. The range holds 95 % of what the board may then do, with the new parts' own tolerance and all that is unsure about the old ones.",
		Heads: []head{{"change", false}, {"in target", false}, {"then", true}, {"95 %", true}}}
	key, wanted := p.wanted()
	var rows []picture.Band
	for i, k := range p.Proposals {
		name := changeName(k)
		row := []entry{{Text: name}, {Text: Percent(k.InTarget), Bar: k.InTarget}, {Number: true}, {Number: true}}
		if b := pick(&k.Predicted)[key]; b != nil {
			u := timeRows[key].unit
			row[2].Text, row[3].Text = quantity.Format(b.Value, u), span(b.Low, b.High, u)
			if i < 5 {
				rows = append(rows, picture.Band{Name: name, Word: Percent(k.InTarget), Unit: u, Reference: wanted.value, Limits: wanted.limits, Likely: [2]float64{b.Low, b.High}, Nominal: b.Value})
			}
		}
		t.Rows = append(t.Rows, row)
		if k.Caution != "" {
			s.Points = append(s.Points, k.Caution)
		}
	}
	s.Points = unique(s.Points)
	if len(rows) > 0 && wanted.value > 0 {
		caption := fmt.Sprintf("Where each change would put the %s: the solid bar holds 95 %% of what the board may then do, the tick is its middle. Hatched: the target. A bar wholly inside it is safe to fit.", timeRows[key].name)
		s.Pictures = []drawing{placed(picture.Bands(a.id(), "After the change", caption, rows))}
	}
	s.Tables = []table{t}
	return s
}

// aim is one quantity's target.
type aim struct {
	value  float64
	limits [2]float64
}

// wanted is the first target's quantity, as an index of timeRows; the frequency where there is none.
func (p *Page) wanted() (key int, a aim) {
	for _, t := range p.targets() {
		for i, r := range timeRows {
			if r.key == t.Quantity {
				return i, aim{t.Value, [2]float64{t.Low, t.High}}
			}
		}
	}
	return 3, aim{}
}

// changeName writes a proposal in one line.
func changeName(k compare.Proposal) string {
	if len(k.Changes) == 0 {
		return "Leave it as it is"
	}
	var out []string
	for _, c := range k.Changes {
		out = append(out, c.Part+": "+c.Fit)
	}
	return strings.Join(out, "; ")
}
