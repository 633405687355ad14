package document

import (
	"fmt"
	"math"
	"sort"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/fit/predict"
)

// judgedTime is the quantity whose budget is drawn: the frequency, or the only time of a single pulse.
func judgedTime(r *predict.Result) int {
	if r.OnePulse {
		return 0
	}
	return 3
}

// promised is the nominal time of a design, without its name.
func promised(r *predict.Result) string {
	q := judgedTime(r)
	b := r.Bands[q]
	return fmt.Sprintf("%s %s, %s in the worst case of its parts.", compare.Quantities[q].Name, words.Among(b.Nominal, b.Worst[0], b.Worst[1], compare.Quantities[q].Unit), quantity.Span(b.Worst[0], b.Worst[1], compare.Quantities[q].Unit))
}

// holds says how far a design holds its target, in a sentence for the head; empty without one.
func (b *Basis) holds() string {
	each, all := b.Prediction.Yields(b.targets())
	switch {
	case len(each) == 0:
		return ""
	case all >= goodYield:
		return fmt.Sprintf("The design holds its target: %s of boards meet it.", quantity.Probability(all))
	}
	text := fmt.Sprintf("The design does not hold its target: %s of boards meet it.", quantity.Probability(all))
	var nominal [5]float64
	for i, band := range b.Prediction.Bands {
		nominal[i] = band.Nominal
	}
	if slip := reconcile.TargetSlip(b.Design, nominal); slip != "" {
		text += " " + slip
	}
	return text
}

// goodYield is the share of boards from which a design counts as one that holds its target (common practice: the 95 % that
// the bands are drawn for).
const goodYield = 0.95

// yields says of each quantity of the target how many boards meet it, and how well the nominal is centred.
func (b *Basis) yields(s *Section) {
	each, _ := b.Prediction.Yields(b.targets())
	for _, y := range each {
		q := compare.QuantityOf(y.Quantity)
		centred := "nominal at its centre"
		if d := words.Deviation(1+y.Centre, 0, 1); d != "equal" {
			centred = "nominal " + d + " from its value"
		}
		tone, worst := Good, "the worst case lies within it"
		if !y.Worst {
			worst = "the worst case does not lie within it"
		}
		if y.Yield < goodYield {
			tone = Bad
		}
		s.add(Block{Label: "Target", Tone: tone, Text: fmt.Sprintf("%s %s: yield %s; %s, %s.", q.Name, quantity.Span(y.Limits[0], y.Limits[1], q.Unit), quantity.Probability(y.Yield), centred, worst)})
		s.Records = append(s.Records, Record{Kind: "yield", Name: y.Quantity, Unit: "1", Value: &y.Yield, Uncertainty: &y.Error, Low: &y.Limits[0], High: &y.Limits[1], Detail: "fraction of boards within the target"})
	}
}

// promise lists and draws the nominal times with their bands.
func (b *Basis) promise() Section {
	r := b.Prediction
	s := Section{ID: "promise", Heading: "Nominal times and their bands"}
	t := &Table{Caption: "First order: the timer ideal. Nominal: the timer typical. Worst case and root sum square: the parts within tolerance. 95 % of boards: parts, supply and timer drawn at random.",
		Columns: []Column{{}, {Head: "first order", Number: true}, {Head: "nominal", Number: true}, {Head: "worst case", Number: true}, {Head: "root sum square", Number: true}, {Head: "95 % of boards", Number: true}}, Stack: true}
	var bands []picture.Band
	for i, e := range r.Bands {
		if i > 0 && r.OnePulse {
			break
		}
		q := compare.Quantities[i]
		in := func(v float64) string {
			if v == 0 {
				return "—"
			}
			return words.Among(v, e.Worst[0], e.Worst[1], q.Unit)
		}
		t.Rows = append(t.Rows, cells(q.Name, in(e.FirstOrder), in(e.Nominal), quantity.Span(e.Worst[0], e.Worst[1], q.Unit), quantity.Span(e.RSS[0], e.RSS[1], q.Unit), quantity.Span(e.MonteCarlo[0], e.MonteCarlo[1], q.Unit)))
		band := picture.Band{Name: compare.Sentence(q.Name), Word: in(e.Nominal), Unit: q.Unit, Reference: e.Nominal, Nominal: e.Nominal, Ideal: e.FirstOrder, Worst: e.Worst, RSS: e.RSS, Likely: e.MonteCarlo}
		if g := b.target(q.Key); g != nil {
			band.Limits = [2]float64{g.Low, g.High}
		}
		bands = append(bands, band)
		s.Records = append(s.Records, Record{Kind: "predicted", Name: q.Key, Unit: q.Unit.InJSON(), Nominal: &e.Nominal, Low: &e.Worst[0], High: &e.Worst[1]})
	}
	const caption = "Deviation from nominal (the tick). The bracket is the worst case of the parts, the open bar their root sum square, the solid bar holds 95 % of boards with the timer's spread; the diamond is the first-order formula. Hatched: the target, where one is set. A solid bar inside the hatching is a design that works without selecting parts."
	s.draw(func(id string) picture.Picture {
		return picture.Bands(id, "Nominal times and their bands", caption, "against nominal", bands)
	}, func(id string) picture.Picture { return spreadBars(id, r) })
	s.table(t, Always)
	if r.Sets != "" {
		s.say(Sentence, r.Sets+".")
	}
	b.yields(&s)
	return s
}

// spreadBars draw what each input's spread does.
func spreadBars(id string, r *predict.Result) picture.Picture {
	q := judgedTime(r)
	rows := append([]predict.Row{}, r.Budget...)
	sort.SliceStable(rows, func(i, k int) bool { return rows[i].Effect[q] > rows[k].Effect[q] })
	var bars []picture.Bar
	for _, b := range rows {
		if b.Effect[q] >= 0.01*rows[0].Effect[q] {
			bars = append(bars, picture.Bar{Name: compare.Sentence(b.Input), Value: b.Effect[q]})
		}
	}
	name := compare.Quantities[q].Name
	caption := fmt.Sprintf("What each input's standard uncertainty does to the %s, the largest first. A tighter part pays only at the top of this list. What is below a hundredth of the first is left to the table.", name)
	return picture.Bars(id, "Where the spread of the "+name+" comes from", caption, quantity.Number, bars)
}

// leastShift is the smallest relative shift that is shown.
const leastShift = 1e-5

// spread lists each input's share of the spread, and of the difference from the ideal timer.
func (b *Basis) spread() Section {
	r := b.Prediction
	s := Section{ID: "spread", Heading: "Where the spread comes from"}
	shown := []int{0, 1, 3} // high, low, frequency
	if r.OnePulse {
		shown = shown[:1]
	}
	t := &Table{Caption: "Relative standard uncertainty that each input gives; the shift is what its typical value does against the ideal timer.", Columns: []Column{{Head: "input"}, {Head: "distribution", Drop: 3}}, Stack: true}
	for _, q := range shown {
		t.Columns = append(t.Columns, Column{Head: compare.Quantities[q].Name, Number: true}, Column{Head: "shift", Number: true})
	}
	t.Columns = append(t.Columns, Column{Head: "source", Show: PageOnly})
	for _, e := range r.Budget {
		row := cells(compare.Sentence(e.Input), e.Distribution)
		for _, q := range shown {
			shift := ""
			if math.Abs(e.Shift[q]) >= leastShift {
				shift = words.Deviation(1+e.Shift[q], 0, 1)
			}
			row = append(row, cells(quantity.Relative(e.Effect[q]), shift)...)
		}
		t.Rows = append(t.Rows, append(row, Cell{Text: e.Source}))
	}
	s.table(t, Always)
	for _, e := range r.Budget {
		s.add(Block{Kind: Point, Label: compare.Sentence(e.Input), Text: e.Source, Show: TextOnly})
	}
	return s
}
