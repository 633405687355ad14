package report

import (
	"fmt"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/fit"
)

// proposalsDrawn is how many proposals a picture shows; the table lists them all.
const proposalsDrawn = 5

// targetsDrawn is how many of the target's quantities have a picture.
const targetsDrawn = 2

// proposals draws what to fit.
func (p *Page) proposals(a *album) *section {
	if p.Proposals == nil {
		return nil
	}
	s := &section{ID: "retune", Heading: "What to fit", Layout: flow, Lead: tied(sentence(proposalLine(p.Proposals)))}
	if len(p.Proposals) == 0 {
		return s
	}
	for i, t := range p.targets() {
		if i < targetsDrawn {
			s.Pictures = append(s.Pictures, placed(p.afterwards(a, t)))
		}
	}
	s.Tables = []table{p.proposalsTable()}
	if p.Finding != nil && p.Finding.Measured.Period == nil { // a single pulse: one picture, few columns
		s.Layout = pair
	}
	for i := range p.Proposals {
		if c := p.Proposals[i].Caution; c != "" {
			s.Points = append(s.Points, c)
		}
	}
	s.Points = unique(s.Points)
	return s
}

// proposalsTable lists every proposal with what the board then does.
func (p *Page) proposalsTable() table {
	t := table{Caption: "The surest first. Below each predicted value the range that holds 95 % of what the board may then do, with the new parts' own tolerance and all that is unsure about the old ones.",
		Heads: []head{{"change", false}, {"on target", false}, {"stock", false}}, Stack: true}
	shown := []int{}
	for k, b := range pick(&p.Proposals[0].Predicted) {
		if b != nil {
			shown = append(shown, k)
			t.Heads = append(t.Heads, head{timeRows[k].name, true})
		}
	}
	for i := range p.Proposals {
		q := &p.Proposals[i]
		row := []entry{{Text: fmt.Sprintf("%d. %s", i+1, ChangeText(q))}, {Text: Percent(q.InTarget), Bar: q.InTarget}, {Text: stockText(q)}}
		bands := pick(&q.Predicted)
		for _, k := range shown {
			e := entry{Number: true}
			if b := bands[k]; b != nil {
				e.Text, e.More = among(b.Value, b.Low, b.High, timeRows[k].unit), span(b.Low, b.High, timeRows[k].unit)
			}
			row = append(row, e)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// stockText says whether a proposal's parts are in stock; "" where no stock was named or nothing is to be fitted.
func stockText(q *compare.Proposal) string {
	switch {
	case q.InStock == nil || len(q.Changes) == 0:
		return ""
	case *q.InStock:
		return "in stock"
	}
	return "not all in stock"
}

// afterwards draws where the first proposals put one quantity of the target.
func (p *Page) afterwards(a *album, t fit.Target) picture.Picture {
	var rows []picture.Band
	name, unit := spaced(t.Quantity), unitOf(t.Quantity)
	for i := range p.Proposals[:min(len(p.Proposals), proposalsDrawn)] {
		q := &p.Proposals[i]
		for k, b := range pick(&q.Predicted) {
			if b != nil && timeRows[k].key == t.Quantity {
				rows = append(rows, picture.Band{Name: fmt.Sprintf("%d. %s", i+1, changeName(q)), Word: among(b.Value, b.Low, b.High, unit), Unit: unit,
					Reference: t.Value, Limits: [2]float64{t.Low, t.High}, Likely: [2]float64{b.Low, b.High}, Nominal: b.Value, Tick: "middle"})
			}
		}
	}
	caption := fmt.Sprintf("Where each change puts the %s, as its deviation from the wanted %s. The solid bar holds 95 %% of what the board may then do, the tick is its middle. Hatched: the target. A bar wholly inside it is safe to fit.", name, quantity.Format(t.Value, unit))
	return picture.Bands(a.id(), sentence(name)+" after the change", caption, rows)
}

// changeName is a proposal short enough for a picture: without where a trimmer stands.
func changeName(q *compare.Proposal) string {
	short := compare.Proposal{}
	for _, c := range q.Changes {
		c.Fit, _, _ = strings.Cut(c.Fit, ", at about")
		short.Changes = append(short.Changes, c)
	}
	return ChangeText(&short)
}
