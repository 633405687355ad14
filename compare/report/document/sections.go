package document

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/caution"
	"offbeat/compare/report/words"
)

// Of builds a document.
func Of(b *Basis) *Document {
	d := &Document{Title: b.title(), Facts: b.facts(), Subject: b.subject(), Closing: caution.Qualified}
	b.answer(d)
	for _, s := range b.sections() {
		if b.Proposals != nil && s.ID != "retune" && s.ID != "notes" { // about what to fit: the rest is for who asks
			s.Show, s.Records = max(s.Show, Detail), nil
		}
		d.Records = append(d.Records, s.Records...)
		if len(s.Blocks) > 0 {
			d.Sections = append(d.Sections, s)
		}
	}
	if b.Finding != nil {
		slices.SortStableFunc(d.Records, func(a, b Record) int { return cmp.Compare(places[a.Kind], places[b.Kind]) })
	}
	return d
}

// places of the kinds of a finding's records. Those of a proposal stay together.
var places = map[string]int{"measured": 1, "predicted": 2, "yield": 2, "group": 3, "waveform": 4, "stability": 5, "part": 6, "proposal": 7, "change": 7, "retuned": 7, "cause": 8, "verdict": 9, "latch": 10, "next": 11}

// sections come in the order of a screen: what to do, why, the numbers, what they rest on. One that has nothing to say is
// empty.
func (b *Basis) sections() []Section {
	switch {
	case b.Lot != nil:
		return append(b.lotSections(), cautions())
	case b.Ledger != nil:
		return b.ledgerSections()
	case b.Kept != nil:
		return b.keptSections()
	case b.Prediction != nil:
		return []Section{b.promise(), b.board(), b.spread(), notes(append(append([]string{}, b.Warnings...), b.Prediction.Warnings...)), cautions()}
	case b.Stands != "":
		return []Section{b.board(), notes(b.Warnings), cautions()}
	case b.Finding == nil && b.Proposals != nil:
		return []Section{b.proposals(), notes(b.Warnings), cautions()}
	case len(b.Charges) > 0:
		var all []Section
		for i := range b.Charges {
			all = append(all, charge(&b.Charges[i], i))
		}
		return append(all, notes(b.Warnings), cautions())
	case b.Finding == nil:
		return append(b.measured(), b.heard(), captureList(b.Captures), notes(warnings(b.Captures, b.Warnings)), cautions())
	}
	f := b.Finding
	return []Section{b.latch(), b.latchFaults(), b.proposals(), b.next(), b.board(), b.causes(), b.times(), b.parts(), b.since(), waveform(f.Waveform, b.run()), b.stability(f.Stability, false),
		b.heard(), b.captures(), captureList(f.Captures), notes(warnings(f.Captures, f.Warnings)), cautions()}
}

// answer puts the answer at the head, and the verdict in a word where there is one.
func (b *Basis) answer(d *Document) {
	var short []string
	switch {
	case b.Lot != nil:
		d.Answer = []string{b.Lot.Finding}
		if len(b.targets()) > 0 {
			d.Result = string(b.Lot.Acceptance.Result)
		}
	case b.Ledger != nil:
		d.Answer, d.Closing = []string{ledgerLine(b.Ledger)}, ""
	case b.Kept != nil:
		d.Closing = ""
		for i := range b.Kept.Visits {
			d.Answer = append(d.Answer, keptTitle(&b.Kept.Visits[i]))
		}
	case b.Finding != nil:
		d.Answer = b.Finding.Answer
		if len(d.Answer) == 0 { // read from a file
			d.Answer = []string{b.Finding.Finding}
		}
		d.Short = b.Finding.Finding
		if v := b.Finding.Verdict.Result; v != "no target" {
			d.Result = v
		}
	case b.Proposals != nil:
		d.Answer = []string{b.title() + ": " + b.proposalLine()}
	case b.Prediction != nil:
		d.Answer, d.Closing = []string{b.title() + ": " + promised(b.Prediction)}, caution.Supply
		if text := b.holds(); text != "" {
			d.Answer = append(d.Answer, text)
		}
	case b.Stands != "":
		d.Answer, d.Closing, d.Result = []string{b.title() + " does not run with its nominal parts: " + b.Stands + "."}, caution.Supply, "fail"
	case len(b.Charges) > 0:
		for i := range b.Charges {
			d.Answer = append(d.Answer, chargeLine(&b.Charges[i]))
		}
		d.Closing = ""
	default:
		for i := range b.Captures {
			d.Answer = append(d.Answer, words.Source(&b.Captures[i], b.Captures)+": "+jumps(b.Captures[i].Stability)+summary(b.Captures[i].Measured))
			short = append(short, d.Answer[i]+aside(&b.Captures[i]))
		}
		d.Closing = ""
	}
	switch {
	case short != nil:
		d.Short = strings.Join(short, "\n")
	case d.Short == "":
		d.Short = strings.Join(d.Answer, " ")
	}
	if f := b.Finding; f != nil {
		var asides []string
		for i := range f.Captures {
			asides = append(asides, aside(&f.Captures[i]))
		}
		d.Short += strings.Join(compare.Unique(asides), "")
	}
	if b.Proposals != nil {
		d.Short = b.proposalLine()
	}
}

// measured are the captures that no design judges, a section each, with the first one's waveform and how its times run.
func (b *Basis) measured() []Section {
	var out []Section
	for i := range b.Captures {
		c, r := &b.Captures[i], b.runAt(i)
		name := words.Source(c, b.Captures)
		s := Section{ID: fmt.Sprint("measured-", i+1), Heading: "Measured"}
		source := name
		if len(b.Captures) > 1 {
			s.Heading = name
		}
		s.Records = measuredRecords(source, c.Measured)
		t := &Table{Columns: []Column{{}, {Head: "mean, standard uncertainty", Number: true}, {Head: "relative", Number: true}, {Head: "count", Number: true, Drop: 1}}}
		for k, q := range c.Measured.Each() {
			if q != nil {
				t.Rows = append(t.Rows, cells(compare.Quantities[k].Name, quantity.PlusMinus(q.Value, q.Uncertainty, compare.Quantities[k].Unit), quantity.Relative(q.Uncertainty/q.Value), fmt.Sprint(q.Count)))
			}
		}
		if i < drawn {
			b.pictures(&s, r, i == 0)
		}
		s.table(t, Always)
		if r.measurement != nil {
			levels(&s, r.measurement)
			if r.measurement.Slow.HumUnseen {
				s.labelled(Sentence, "Hum", humUnseen)
			}
			s.table(budgetTable(r.measurement), Detail)
			s.points(r.measurement.Notes...)
		}
		wave, runs := waveform(c.Waveform, r), b.stability(c.Stability, true)
		for _, q := range []*Section{&wave, &runs} {
			q.ID += fmt.Sprint("-", i+1)
			for k := range q.Records {
				q.Records[k].Detail = source
			}
			if len(b.Captures) > 1 {
				q.Heading += ", " + name
			}
		}
		out = append(out, s, wave, runs)
	}
	return out
}
