package document

import (
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

// warnings are what a reader should know before believing the numbers, what was met in the captures first.
func warnings(captures []compare.Capture, more []string) []string {
	var out []string
	for i := range captures {
		for _, n := range captures[i].Notes {
			if len(captures) > 1 {
				n = words.Source(&captures[i], captures) + ": " + n
			}
			out = append(out, n)
		}
	}
	return append(out, more...)
}

// notes lists what a reader should know before believing the numbers.
func notes(all []string) Section {
	s := Section{ID: "notes", Heading: "Notes"}
	s.points(compare.Unique(all)...)
	return s
}

// cautions close a page; in text the last one does.
func cautions() Section {
	s := Section{ID: "cautions", Heading: "Cautions", Show: PageOnly}
	s.points(caution.Off, caution.Polarity, caution.Live, caution.Supply, caution.Qualified)
	return s
}
