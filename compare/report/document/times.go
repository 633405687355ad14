package document

import (
	"fmt"
	"math"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/compare/verdict"
)

// times sets the measured times against the nominal ones, and says the verdict.
func (b *Basis) times() Section {
	f := b.Finding
	s := Section{ID: "times", Heading: "Times"}
	s.Records = append(measuredRecords("", &f.Measured), PredictedRecords(&f.Predicted)...)
	for _, q := range f.Verdict.Each {
		s.Records = append(s.Records, Record{Kind: "verdict", Name: q.Quantity, Value: &q.Value, Uncertainty: &q.Uncertainty, Low: &q.Limits[0], High: &q.Limits[1], Probability: &q.ProbabilityIn, Detail: q.Result})
	}
	if f.Measured.High == nil {
		return s
	}
	s.Layout = Pair
	if len(f.Verdict.Each) > 0 {
		s.draw(b.verdictBands)
	} else {
		s.draw(b.nominalBands)
	}
	s.table(timesTable(f), Always)
	if compare.HumUnseen(f.Captures) {
		s.labelled(Sentence, "Hum", humUnseen)
	}
	if f.Verdict.Result == verdict.None {
		s.say(Sentence, "No target is set, so there is no verdict.")
	}
	for _, v := range f.Verdict.Each {
		q, where := compare.QuantityOf(v.Quantity), ""
		if len(f.Stretches) > 0 {
			where = " where it is " + quantity.Format(v.Value, q.Unit)
		}
		s.add(Block{Label: "Target", Tone: tones[v.Result], Text: fmt.Sprintf("%s %s: %s%s; conformance probability %s.", q.Name, quantity.Span(v.Limits[0], v.Limits[1], q.Unit), v.Result, where, quantity.Probability(v.ProbabilityIn))})
	}
	if f.Verdict.Rule != "" {
		s.add(Block{Label: "Rule", Text: f.Verdict.Rule + ".", Show: Detail})
	}
	for _, d := range perQuantity(f.Deviation) {
		q, against := compare.QuantityOf(d[0].Quantity), "nominal"
		if t := b.target(q.Key); t != nil && t.Value > 0 {
			against = quantity.Format(t.Value, q.Unit)
		}
		show := Detail // of a quantity that passes, for who asks
		for _, v := range f.Verdict.Each {
			if v.Quantity == q.Key && (v.Result != verdict.Pass || q.Key == f.Verdict.Quantity) {
				show = Always
			}
		}
		if len(f.Verdict.Each) == 0 {
			show = Always
		}
		if text := sharedOut(d, f.Causes); text != "" {
			s.add(Block{Label: compare.Sentence(q.Name) + " against " + against, Text: text, Show: show})
		}
	}
	if f.Verdict.Result == "fail" && len(f.Stretches) == 0 && len(f.Causes) > 0 && f.Causes[0].Cause == cause.Nothing {
		s.say(Sentence, "Off target with nothing wrong: a design whose parts in tolerance do not hold its target; offbeat predict says how many boards do.")
	}
	return s
}

// perQuantity takes the shares apart by quantity.
func perQuantity(all []compare.Deviation) [][]compare.Deviation {
	var out [][]compare.Deviation
	for _, d := range all {
		if n := len(out); n > 0 && out[n-1][0].Quantity == d.Quantity {
			out[n-1] = append(out[n-1], d)
			continue
		}
		out = append(out, []compare.Deviation{d})
	}
	return out
}

// timesTable sets the measured times beside the nominal ones.
func timesTable(f *compare.Finding) *Table {
	m := f.Measured.High
	if f.Measured.Period != nil {
		m = f.Measured.Period
	}
	of := ""
	if len(f.Stretches) > 0 {
		of = "the longest stretch, "
		if len(f.Stretches[0].Captures) > 0 {
			of = "of captures that disagree, those with the most: "
		}
	}
	t := &Table{Caption: fmt.Sprintf("± is one standard uncertainty; %s%s. The range is the worst case of the parts' tolerances, the change against nominal.", of, quantity.Plural(m.Count, wholeOf(f))),
		Columns: []Column{{}, {Head: "measured", Number: true}, {Head: "nominal", Number: true}, {Head: "in tolerance", Number: true}, {Number: true}, {Drop: 1}}, Stack: true}
	measured, predicted := f.Measured.Each(), f.Predicted.Each()
	for i, q := range compare.Quantities {
		m, e := measured[i], predicted[i]
		if m == nil {
			continue
		}
		row := cells(q.Name, quantity.PlusMinus(m.Value, m.Uncertainty, q.Unit), "", "", "", "")
		if e != nil {
			row[2].Text, row[3].Text = words.Among(e.Nominal, e.Low, e.High, q.Unit), quantity.Span(e.Low, e.High, q.Unit)
			row[4].Text = words.Deviation(m.Value, m.Uncertainty, e.Nominal)
			if at := quantity.Side(m.Value, e.Low, e.High); at != "inside" {
				row[5] = toned(at, Bad)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// verdictBands draws each judged quantity against its limits.
func (b *Basis) verdictBands(id string) picture.Picture {
	var rows []picture.Band
	for _, v := range b.Finding.Verdict.Each {
		rows = append(rows, b.verdictBand(v))
	}
	caption := "The dot is the measured value with its expanded uncertainty (k = 2). Hatched: the target's limits, the guard band dashed inside them. The bracket above is what the parts' tolerances allow, the tick their nominal prediction. A dot clear of the dashes on the inside passes." + b.bared()
	return picture.Bands(id, "Measured against the target", caption, "against target", rows)
}

// bared says of each judged value that is not the measured one why: it is that of the board without what it was measured with,
// such as a probe, or of where a board that changes fails.
func (b *Basis) bared() string {
	text := ""
	measured := b.Finding.Measured.Each()
	for _, v := range b.Finding.Verdict.Each {
		q := compare.QuantityOf(v.Quantity)
		if m := measured[compare.PlaceOf(v.Quantity)]; m != nil && math.Abs(v.Value-m.Value) > 1e-9*m.Value {
			where := "of the board without what it was measured with"
			if len(b.Finding.Stretches) > 0 {
				where = "where the board fails"
			}
			text += fmt.Sprintf(" The %s is that %s; the table has the measured %s.", q.Name, where, quantity.Uncertain(m.Value, m.Uncertainty, q.Unit))
		}
	}
	return text
}

// nominalBands draws each time of a board without a target against its nominal and what its parts in tolerance allow.
func (b *Basis) nominalBands(id string) picture.Picture {
	var rows []picture.Band
	measured, predicted := b.Finding.Measured.Each(), b.Finding.Predicted.Each()
	for i, q := range compare.Quantities {
		m, e := measured[i], predicted[i]
		if m == nil || e == nil || !(e.Nominal > 0) {
			continue
		}
		rows = append(rows, picture.Band{Name: fmt.Sprintf("%s %s", compare.Sentence(q.Name), quantity.Uncertain(m.Value, m.Uncertainty, q.Unit)), Unit: q.Unit, Reference: e.Nominal,
			Worst: [2]float64{e.Low, e.High}, Nominal: e.Nominal, Measured: m.Value, Expanded: 2 * m.Uncertainty, Word: words.Deviation(m.Value, m.Uncertainty, e.Nominal)})
	}
	const caption = "The dot is the measured value with its expanded uncertainty (k = 2), against the nominal prediction. The bracket is what the parts' tolerances allow. No target is set, so nothing passes or fails."
	if rows == nil {
		return picture.Picture{}
	}
	return picture.Bands(id, "Measured against nominal", caption, "against nominal", rows)
}

// verdictBand is the row of one judged quantity.
func (b *Basis) verdictBand(v compare.QuantityVerdict) picture.Band {
	q := compare.QuantityOf(v.Quantity)
	band := picture.Band{Unit: q.Unit, Limits: v.Limits, Guard: v.GuardBand, Measured: v.Value, Expanded: 2 * v.Uncertainty, Word: v.Result}
	if p := b.Finding.Predicted.Each()[compare.PlaceOf(v.Quantity)]; p != nil {
		band.Worst, band.Nominal = [2]float64{p.Low, p.High}, p.Nominal
	}
	band.Name = fmt.Sprintf("%s %s", compare.Sentence(q.Name), quantity.Uncertain(v.Value, v.Uncertainty, q.Unit))
	band.Reference = (v.Limits[0] + v.Limits[1]) / 2
	if t := b.target(v.Quantity); t != nil && t.Value > 0 {
		band.Reference = t.Value
	}
	return band
}

// measuredRecords are the measured times; source goes into the detail.
func measuredRecords(source string, t *compare.Times[compare.Measured]) []Record {
	var rows []Record
	for i, m := range t.Each() {
		if m != nil {
			rows = append(rows, Record{Kind: "measured", Name: compare.Quantities[i].Key, Unit: compare.Quantities[i].Unit.InJSON(), Value: &m.Value, Uncertainty: &m.Uncertainty, Detail: source})
		}
	}
	return rows
}

// PredictedRecords are the predicted times, low and high in the worst case.
func PredictedRecords(t *compare.Times[compare.Predicted]) []Record {
	var rows []Record
	for i, e := range t.Each() {
		if e != nil {
			rows = append(rows, Record{Kind: "predicted", Name: compare.Quantities[i].Key, Unit: compare.Quantities[i].Unit.InJSON(), Nominal: &e.Nominal, Low: &e.Low, High: &e.High})
		}
	}
	return rows
}
