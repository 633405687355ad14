package document

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
)

// parts says what each part is likely to be, drawn across its tolerance.
func (b *Basis) parts() Section {
	f := b.Finding
	s := Section{ID: "parts", Heading: "Parts"}
	if b.Evidence != nil && len(b.Evidence.Result.Samples) > 0 && slices.ContainsFunc(f.Parts, func(q compare.Part) bool { return !q.Unsupported }) {
		s.Layout = Pair
		s.draw(func(id string) picture.Picture { return picture.Parts(id, b.partValues()) })
	}
	s.table(partsTable(f.Parts), Always)
	s.say(Sentence, overAll(f))
	for _, q := range f.Parts {
		if q.Unsupported {
			s.Records = append(s.Records, Record{Kind: "part", Name: q.Name, Unit: q.Unit, Nominal: &q.Nominal, Detail: unsupported})
			continue
		}
		s.Records = append(s.Records, Record{Kind: "part", Name: q.Name, Unit: q.Unit, Nominal: &q.Nominal, Value: &q.Value, Low: &q.Interval95[0], High: &q.Interval95[1], Probability: &q.OutOfTolerance, Detail: "95 % coverage interval; probability of being out of tolerance"})
	}
	return s
}

// overAll explains an estimate that is not the one of the likeliest cause; empty where they are equal.
func overAll(f *compare.Finding) string {
	if len(f.Causes) == 0 || len(f.Causes[0].Parts) != 1 || f.Causes[0].Value == nil {
		return ""
	}
	top := &f.Causes[0]
	for _, q := range f.Parts {
		if q.Name != top.Parts[0] || q.Unit != top.Unit || q.Unsupported {
			continue
		}
		u := quantity.InJSON[q.Unit]
		if words.Among(*top.Value, q.Interval95[0], q.Interval95[1], u) != words.Among(q.Value, q.Interval95[0], q.Interval95[1], u) {
			return fmt.Sprintf("Over all causes together; the likeliest one alone puts %s at %s.", q.Name, quantity.Format(*top.Value, u))
		}
	}
	return ""
}

// unsupported is said of a part of which the times say nothing, since no listed cause explains them.
const unsupported = "not supported"

// partsTable lists the parts with their intervals.
func partsTable(parts []compare.Part) *Table {
	t := &Table{Caption: "Over all causes together. [ ] limits, | nominal, = 95 % coverage interval (JCGM 200), o estimate (median), < > beyond the scale.",
		Columns: []Column{{}, {Head: "nominal", Number: true}, {Head: "estimate", Number: true}, {Head: "95 % coverage", Number: true}, {Drop: 1, Show: TextOnly}, {Head: "P(out of tolerance)", Number: true}}, Stack: true}
	for i := range parts {
		q := &parts[i]
		u := quantity.InJSON[q.Unit]
		if q.Unsupported {
			t.Rows = append(t.Rows, []Cell{{Text: q.Name}, {Text: words.Tolerance(q)}, {Text: unsupported}, {}, {}, {}})
			continue
		}
		t.Rows = append(t.Rows, []Cell{{Text: q.Name}, {Text: words.Tolerance(q)}, {Text: words.Among(q.Value, q.Interval95[0], q.Interval95[1], u)}, {Text: quantity.Span(q.Interval95[0], q.Interval95[1], u)},
			{Part: q}, likelihood(q.OutOfTolerance)})
	}
	return t
}

// likelihood is a probability of being out of tolerance, marked where that is likelier than not.
func likelihood(p float64) Cell {
	if p > 0.5 {
		return toned(quantity.Probability(p), Bad)
	}
	return Cell{Text: quantity.Probability(p)}
}

// partValues takes the samples apart by part.
func (b *Basis) partValues() []picture.PartValue {
	samples := b.Evidence.Result.Samples
	weights := make([]float64, len(samples))
	for k := range samples {
		weights[k] = samples[k].Weight
	}
	var out []picture.PartValue
	for i, q := range b.Finding.Parts {
		if q.Unsupported {
			continue
		}
		v := picture.PartValue{Name: q.Name, Unit: quantity.InJSON[q.Unit], Nominal: q.Nominal, Low: q.Limits[0], High: q.Limits[1],
			Value: q.Value, Interval: q.Interval95, OutOfTolerance: q.OutOfTolerance, Weights: weights, Values: make([]float64, len(samples))}
		for k := range samples {
			v.Values[k] = samples[k].Values[i]
		}
		out = append(out, v)
	}
	return out
}

// since is by what each part has moved since the baseline, where there is one.
func (b *Basis) since() Section {
	s := Section{ID: "since", Heading: "Each part since the baseline"}
	t := &Table{Columns: []Column{{}, {Head: "estimate", Number: true}, {Head: "95 % coverage", Number: true}, {}}}
	for _, q := range b.Finding.Parts {
		c := q.Change
		if c == nil {
			continue
		}
		move, interval := moves(c)
		verdict := Cell{Text: "may be as it was"}
		if moved(c) {
			verdict = toned("moved", Doubtful)
		}
		t.Rows = append(t.Rows, []Cell{{Text: q.Name}, {Text: move}, {Text: interval}, verdict})
		one := 1.0
		s.Records = append(s.Records, Record{Kind: "change", Name: q.Name, Unit: "1", Nominal: &one, Value: &c.Factor, Low: &c.Interval95[0], High: &c.Interval95[1], Detail: "factor since the baseline; 95 % coverage interval"})
	}
	s.table(t, Always)
	return s
}

// moved says whether a part has moved for sure: its 95 % coverage interval leaves out what it was.
func moved(s *compare.Shift) bool { return s.Interval95[0] > 1 || s.Interval95[1] < 1 }

// moves writes a change and its interval: in percent, or as a factor where it is far from one, with the digits that the
// interval's width leaves a meaning.
func moves(s *compare.Shift) (likely, interval string) {
	low, high := s.Interval95[0], s.Interval95[1]
	scale, from, before, unit := 100.0, 1.0, "", " %"
	if low < 0.5 || high > 2 {
		scale, from, before, unit = 1, 0, "× ", ""
	}
	decimals := 1
	if half := scale * (high - low) / 2; half > 0 {
		decimals = min(max(0, 1-int(math.Floor(math.Log10(half)))), 6)
	}
	text := func(x float64) string {
		if from == 0 {
			return fmt.Sprintf("%.*f", decimals, scale*x)
		}
		return words.Signed(decimals, scale*(x-from))
	}
	if likely = before + text(s.Factor) + unit; from == 1 && strings.Trim(text(s.Factor), "0.") == "" {
		likely = "unchanged"
	}
	return likely, before + text(low) + " … " + text(high) + unit
}
