package table

import (
	"io"
	"strings"
	"time"

	"offbeat/compare/ledger"
)

// ledgerRow is one line of the CSV table of `offbeat ledger`, SI units.
type ledgerRow struct {
	Time        string   `csv:"time"`
	Board       string   `csv:"board"`
	Lot         string   `csv:"lot"`
	Station     string   `csv:"station"`
	Operator    string   `csv:"operator"`
	Temperature *float64 `csv:"temperature"`
	Supply      *float64 `csv:"supply"`
	Verdict     string   `csv:"verdict"`
	Times
	Cause       string  `csv:"cause"`
	Parts       string  `csv:"parts"`
	Probability float64 `csv:"probability"`
	Revision    string  `csv:"design_revision"`
	Tool        string  `csv:"tool_version"`
	Captures    string  `csv:"captures"`
	SHA256      string  `csv:"sha256"`
	Error       string  `csv:"error"`
	Key         string  `csv:"key"`
	Superseded  string  `csv:"superseded_by"`
}

// Ledger writes the table of a ledger's results line by line.
type Ledger struct{ rows[ledgerRow] }

// NewLedger writes the header.
func NewLedger(w io.Writer) (*Ledger, error) {
	t, err := begun[ledgerRow](w)
	return &Ledger{t}, err
}

// Visit writes a result's line.
func (t *Ledger) Visit(v *ledger.Visit) error {
	var names, digests []string
	for _, c := range v.Captures {
		names, digests = append(names, c.Name), append(digests, c.SHA256)
	}
	return t.line(ledgerRow{v.At.Format(time.RFC3339Nano), v.Board, v.Lot, v.Station, v.Operator, v.Temperature, v.Supply, v.Verdict, timesOf(v.Measured.Each()),
		v.Cause, strings.Join(v.CauseParts, " "), v.Probability, v.Revision, v.Tool, strings.Join(names, " "), strings.Join(digests, " "), v.Error, v.Key, v.SupersededBy})
}
