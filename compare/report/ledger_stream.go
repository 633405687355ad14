package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"offbeat/compare/ledger"
)

// LedgerDetail is all that a ledger keeps of one board.
type LedgerDetail struct {
	Schema  int               `json:"schema"`
	Visits  []ledger.Visit    `json:"visits"`
	Designs map[string]string `json:"designs"` // the designs' texts by their SHA-256
}

// LedgerStream writes the JSON document of `offbeat ledger` result by result, as they are read.
type LedgerStream struct {
	w     *bufio.Writer
	begun bool
}

// NewLedgerStream begins a document.
func NewLedgerStream(w io.Writer) *LedgerStream {
	l := &LedgerStream{w: bufio.NewWriter(w)}
	l.w.WriteString("{\n  \"schema\": 1,\n  \"visits\": [")
	return l
}

// Visit writes a result.
func (l *LedgerStream) Visit(v *ledger.Visit) error {
	text, err := compact(v)
	if err != nil {
		return fmt.Errorf("board %s: %w", v.Board, err)
	}
	if l.begun {
		l.w.WriteString(",")
	}
	l.begun = true
	_, err = l.w.WriteString("\n    " + string(text))
	return err
}

// Close ends the document.
func (l *LedgerStream) Close(drift []ledger.Drift, warnings []string) error {
	text, err := compact(struct {
		Drift    []ledger.Drift `json:"drift"`
		Warnings []string       `json:"warnings"`
	}{drift, warnings})
	if err != nil {
		return err
	}
	l.w.WriteString("\n  ],\n  " + strings.TrimSuffix(strings.TrimPrefix(string(text), "{"), "}") + "\n}\n")
	return l.w.Flush()
}
