package report

import (
	"bytes"
	"io"
	"strings"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
)

// LotBoard is one board of the JSON document of `offbeat lot`.
type LotBoard struct {
	Board    string                          `json:"board"`
	Lot      string                          `json:"lot,omitempty"`
	Finding  string                          `json:"finding"`
	Verdict  compare.Verdict                 `json:"verdict"`
	Measured compare.Times[compare.Measured] `json:"measured"`
	Causes   []compare.Cause                 `json:"causes"`                   // those with 0.1 % or more
	Against  string                          `json:"causes_against,omitempty"` // "the other boards" where it stands out from them
	Captures []compare.Capture               `json:"captures"`
	Files    []ledger.Capture                `json:"files"` // how each was taken
	Warnings []string                        `json:"warnings"`
}

// LotStream writes the JSON document of `offbeat lot`: one board a line, then the rest.
type LotStream struct{ stream }

// NewLotStream begins a document.
func NewLotStream(w io.Writer) *LotStream { return &LotStream{begin(w, "boards")} }

// Board writes a board that was judged; one that was not stands in the report.
func (l *LotStream) Board(v *ledger.Visit) error {
	if v.Error != "" {
		return nil
	}
	b := &LotBoard{v.Board, v.Lot, v.Finding, compare.Verdict{Result: v.Verdict}, v.Measured, v.Causes, "", v.Read, nil, v.Warnings}
	if v.Judgement != nil {
		b.Verdict = *v.Judgement
	}
	if v.Alone != nil {
		b.Against = "the other boards"
	}
	for _, c := range v.Captures {
		c.Records = nil // the times stand in captures
		b.Files = append(b.Files, c)
	}
	return l.item(v.Board, b)
}

// Close writes the lot's own part and ends the document.
func (l *LotStream) Close(r *lot.Report) error {
	rest := *r
	rest.Schema = 0 // stands at the head already
	var b bytes.Buffer
	if err := JSON(&b, &rest); err != nil {
		return err
	}
	return l.end(strings.TrimPrefix(b.String(), "{\n"))
}
