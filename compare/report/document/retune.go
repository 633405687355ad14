package document

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/compare/retune"
	"offbeat/fit"
)

const (
	proposalsDrawn = 5 // proposals that a picture shows; the table lists them all
	targetsDrawn   = 2 // of the target's quantities, how many have a picture
)

// noProposal says that nothing helps.
const noProposal = "Nothing fits: no change of one or two parts brings the board on target."

// unreached says that nothing helps, and what could.
func (b *Basis) unreached() string {
	if b.Finding != nil && reconcile.Slipped(b.Finding) > 0 {
		return "No part is proposed before the unit or the prefix is put right."
	}
	if b.Design == nil {
		return noProposal
	}
	return strings.Join(append([]string{noProposal}, retune.Could(b.Design)...), " ")
}

// proposalLine is the best proposal in a sentence.
func (b *Basis) proposalLine() string {
	if len(b.Proposals) == 0 {
		return b.unreached()
	}
	return proposed(&b.Proposals[0]) + "."
}

// proposed is a change with how sure it is.
func proposed(q *compare.Proposal) string {
	text := changeText(q)
	switch {
	case q.AsDrawn && len(q.Changes) == 0:
		text = "As drawn, once what the finding names is put right; no other change"
	case q.AsDrawn:
		text = "As drawn, " + text
	}
	return fmt.Sprintf("%s (on target with probability %s)", text, quantity.Probability(q.InTarget))
}

// proposals lists what to fit.
func (b *Basis) proposals() Section {
	s := Section{ID: "retune", Heading: "What to fit"}
	if b.Proposals == nil {
		return s
	}
	if len(b.Proposals) == 0 {
		s.say(Sentence, b.unreached())
		return s
	}
	for _, t := range b.targets()[:min(targetsDrawn, len(b.targets()))] {
		s.draw(func(id string) picture.Picture { return b.afterwards(id, t) })
	}
	if b.Finding != nil && b.Finding.Measured.Period == nil { // a single pulse: one picture, few columns
		s.Layout = Pair
	}
	t := &Table{Caption: "Below each predicted value the range that holds 95 % of what the board may then do, as far as it is foretold, with the new parts' own tolerance and all that is unsure about the old ones.",
		Columns: []Column{{Head: "change"}, {Head: "P(on target)"}, {Head: "stock"}}, Stack: true}
	var shown []int
	for k, e := range b.Proposals[0].Predicted.Each() {
		if e != nil {
			shown = append(shown, k)
			t.Columns = append(t.Columns, Column{Head: compare.Quantities[k].Name, Number: true})
		}
	}
	var cautions []string
	for i := range b.Proposals {
		q := &b.Proposals[i]
		bands := q.Predicted.Each()
		row := []Cell{{Text: fmt.Sprintf("%d. %s", i+1, changeText(q)), More: map[bool]string{true: "as drawn"}[q.AsDrawn]}, {Text: quantity.Probability(q.InTarget), Share: q.InTarget}, {Text: stockText(q)}}
		if partly(q) {
			row[1].More = "foretold " + quantity.Probability(q.Foretold)
		}
		for _, k := range shown {
			e := Cell{}
			if w := bands[k]; w != nil {
				e.Text, e.More = words.Among(w.Value, w.Low, w.High, compare.Quantities[k].Unit), quantity.Span(w.Low, w.High, compare.Quantities[k].Unit)
			}
			row = append(row, e)
		}
		t.Rows = append(t.Rows, row)
		b.step(&s, q)
		cautions = append(cautions, q.Caution)
		s.Records = append(s.Records, proposalRecords(fmt.Sprintf("proposal %d", i+1), q)...)
	}
	s.table(t, PageOnly)
	if slices.ContainsFunc(b.Proposals, func(q compare.Proposal) bool { return partly(&q) }) {
		s.say(Sentence, notForetold)
	}
	s.cautions(cautions)
	return s
}

// step writes one way to fit parts for text: what, how sure, and what the target's quantities then are.
func (b *Basis) step(s *Section, q *compare.Proposal) {
	text := proposed(q)
	if stock := stockText(q); stock != "" {
		text += ", " + stock
	}
	var then []string
	for k, w := range q.Predicted.Each() {
		t := compare.Quantities[k]
		if w != nil && (t.Key == "frequency" || t.Key == "duty_factor" || b.target(t.Key) != nil) {
			then = append(then, fmt.Sprintf("%s %s, 95 %% within %s", t.Name, words.Among(w.Value, w.Low, w.High, t.Unit), quantity.Span(w.Low, w.High, t.Unit)))
		}
	}
	s.add(Block{Kind: Step, Text: text + ".", Show: TextOnly}, Block{Kind: Under, Text: "Then " + among(q) + strings.Join(then, "; ") + ".", Show: TextOnly})
}

// notForetold says once what the predicted values leave out.
const notForetold = "What is not foretold: no listed cause fits, the board would not run with the change, or the trimmer would not reach."

// partly says whether the predicted values leave something out. An interval inside the target beside a smaller probability would contradict it.
func partly(q *compare.Proposal) bool { return q.Foretold < 0.995 }

// among says how far the predicted values hold, where that is not everywhere.
func among(q *compare.Proposal) string {
	if !partly(q) {
		return ""
	}
	return fmt.Sprintf("as far as foretold (%s), ", quantity.Probability(q.Foretold))
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
func (b *Basis) afterwards(id string, t fit.Target) picture.Picture {
	var rows []picture.Band
	of := compare.QuantityOf(t.Quantity)
	for i := range b.Proposals[:min(len(b.Proposals), proposalsDrawn)] {
		q := &b.Proposals[i]
		if w := q.Predicted.Each()[compare.PlaceOf(t.Quantity)]; w != nil {
			rows = append(rows, picture.Band{Name: fmt.Sprintf("%d. %s", i+1, changeName(q)), Word: words.Among(w.Value, w.Low, w.High, of.Unit), Unit: of.Unit,
				Reference: t.Value, Limits: [2]float64{t.Low, t.High}, Likely: [2]float64{w.Low, w.High}, Nominal: w.Value, Tick: "median"})
		}
	}
	caption := fmt.Sprintf("Where each change puts the %s, as its deviation from the wanted %s. The solid bar holds 95 %% of what the board may then do, as far as it is foretold, the tick is its median. Hatched: the target.", of.Name, quantity.Format(t.Value, of.Unit))
	return picture.Bands(id, compare.Sentence(of.Name)+" after the change", caption, "against target", rows)
}

// changeName is a proposal short enough for a picture: without where a trimmer stands.
func changeName(q *compare.Proposal) string {
	short := compare.Proposal{}
	for _, c := range q.Changes {
		c.Fit, _, _ = strings.Cut(c.Fit, ", at about")
		short.Changes = append(short.Changes, c)
	}
	return changeText(&short)
}

// proposalRecords are one proposal's numbers: one row for the whole and one a predicted quantity.
func proposalRecords(name string, q *compare.Proposal) []Record {
	rows := []Record{{Kind: "proposal", Name: name, Probability: &q.InTarget, Detail: changeText(q)}}
	for k := range q.Changes {
		c := &q.Changes[k]
		rows = append(rows, Record{Kind: "change", Name: name + " " + c.Part, Unit: c.Unit, Value: &c.Value, Detail: c.Fit})
	}
	for k, b := range q.Predicted.Each() {
		if b != nil {
			rows = append(rows, Record{Kind: "retuned", Name: name + " " + compare.Quantities[k].Key, Unit: compare.Quantities[k].Unit.InJSON(), Value: &b.Value, Low: &b.Low, High: &b.High})
		}
	}
	return rows
}
