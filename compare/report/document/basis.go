package document

import (
	"cmp"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/caution"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/compare/report"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/compare/session"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// Basis is what a document is made from. What is nil or empty is left out.
type Basis struct {
	Design       *fit.Design
	Finding      *compare.Finding
	Brief        bool                // the Finding is without what to do next
	Captures     []compare.Capture   // where there is no Finding
	Warnings     []string            // likewise
	Charges      []compare.Charge    // captures without pulses that show a capacitor's charge; then no Captures
	Measurements []*fit.Measurement  // one a capture, in the order of the captures
	Traces       []*picture.Trace    // one a measurement, nil where none was kept
	Evidence     *reconcile.Evidence // behind the Finding
	Checks       []bistable.Check    // of a bistable, in place of measurements
	Prediction   *predict.Result
	Stands       string             // why the design does not run; then no Prediction
	Proposals    []compare.Proposal // what to fit, best first; nil: not asked for
	Session      *session.Snapshot  // a stream that was heard
	Lot          *lot.Report        // many boards, judged by Design; then no Finding
	Boards       []lot.Row          // of the lot; nil leaves the plane of their times out
	ListBoards   bool               // in text too
	Ledger       *report.Ledger
	Kept         *report.LedgerDetail // of one board
	Command      string               // the command that gave the finding, without its options of output
	Anew         string               // the same without its captures
}

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
		return append(b.measured(), b.heard(), captureList(b.Captures), notes(b.Warnings), cautions())
	}
	f := b.Finding
	return []Section{b.latch(), b.latchFaults(), b.proposals(), b.next(), b.board(), b.causes(), b.times(), b.parts(), b.since(), waveform(f.Waveform, b.run()), b.stability(f.Stability, false),
		b.heard(), b.captures(), captureList(f.Captures), notes(warnings(f)), cautions()}
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
		d.Short += strings.Join(words.Unique(asides), "")
	}
	if b.Proposals != nil {
		d.Short = b.proposalLine()
	}
}

func (b *Basis) title() string {
	switch {
	case b.Finding != nil && b.Finding.Title != "":
		return b.Finding.Title
	case b.Design != nil && b.Design.Title != "":
		return b.Design.Title
	case b.Design != nil && b.Design.Wiring != nil:
		return "A board as it is wired"
	case b.Design != nil:
		return b.Design.Circuit
	case len(b.Captures) > 0:
		return b.Captures[0].Source
	}
	return "Bench report"
}

// subject is whose answer it is: the board, and what was read of it.
func (b *Basis) subject() string {
	var all []string
	if b.Lot != nil {
		return b.Lot.Title
	}
	f := b.Finding
	if f == nil {
		return ""
	}
	if f.Title != "" {
		all = append(all, f.Title)
	}
	cycles, skipped := 0, int64(0)
	for i := range f.Captures {
		n := f.Captures[i].Cycles
		if m := f.Captures[i].Measured; f.Measured.Period == nil && m != nil && m.High != nil {
			n = m.High.Count
		}
		cycles, skipped = cycles+n, skipped+f.Captures[i].Skipped
	}
	switch n := len(f.Captures); {
	case n == 1:
		all = append(all, words.Source(&f.Captures[0], f.Captures))
	case n > 1:
		all = append(all, quantity.Plural(n, "capture"))
	}
	text := strings.Join(all, "; ")
	if cycles > 0 {
		text += ", " + quantity.Plural(cycles, wholeOf(f))
	}
	if skipped > 0 {
		text += ", " + quantity.Plural(int(skipped), "row") + " skipped"
	}
	return text
}

// wholeOf is what is counted of a board: cycles, or pulses where it makes single ones.
func wholeOf(f *compare.Finding) string {
	if f.Measured.Period == nil {
		return "whole pulse"
	}
	return "whole cycle"
}

// warnings are what a finding's reader should know before believing its numbers, with what was met in the captures.
func warnings(f *compare.Finding) []string {
	var out []string
	for i := range f.Captures {
		for _, n := range f.Captures[i].Notes {
			if len(f.Captures) > 1 {
				n = words.Source(&f.Captures[i], f.Captures) + ": " + n
			}
			out = append(out, n)
		}
	}
	return append(out, f.Warnings...)
}

// notes lists what a reader should know before believing the numbers.
func notes(all []string) Section {
	s := Section{ID: "notes", Heading: "Notes"}
	s.points(words.Unique(all)...)
	return s
}

// cautions close a page; in text the last one does.
func cautions() Section {
	s := Section{ID: "cautions", Heading: "Cautions", Show: PageOnly}
	s.points(caution.Off, caution.Polarity, caution.Live, caution.Supply, caution.Qualified)
	return s
}
