package report

import (
	"io"

	"offbeat/compare/ledger"
)

// LedgerDetail is all that a ledger keeps of one board.
type LedgerDetail struct {
	Schema  int               `json:"schema"`
	Visits  []ledger.Visit    `json:"visits"`
	Designs map[string]string `json:"designs"` // the designs' texts by their SHA-256
}

// LedgerStream writes the JSON document of `offbeat ledger` result by result, as they are read.
type LedgerStream struct{ stream }

// NewLedgerStream begins a document.
func NewLedgerStream(w io.Writer) *LedgerStream { return &LedgerStream{begin(w, "visits")} }

// Visit writes a result.
func (l *LedgerStream) Visit(v *ledger.Visit) error { return l.item(v.Board, v) }

// Close ends the document.
func (l *LedgerStream) Close(drift []ledger.Drift, warnings []string) error {
	text, err := compact(struct {
		Drift    []ledger.Drift `json:"drift"`
		Warnings []string       `json:"warnings"`
	}{drift, warnings})
	if err != nil {
		return err
	}
	return l.end("  " + string(text[1:len(text)-1]) + "\n}\n")
}
