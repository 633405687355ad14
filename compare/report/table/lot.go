package table

import (
	"io"
	"strings"

	"offbeat/compare/ledger"
)

// lotRow is one board's line of the CSV table of `offbeat lot`, SI units.
type lotRow struct {
	Board   string `csv:"board"`
	Lot     string `csv:"lot"`
	Verdict string `csv:"verdict"`
	Times
	Duty        *float64 `csv:"duty_factor"`
	DutyU       *float64 `csv:"duty_factor_u"`
	Cause       string   `csv:"cause"`
	Parts       string   `csv:"parts"`
	Probability *float64 `csv:"probability"`
	Error       string   `csv:"error"`
}

// Lot writes the table of a lot's boards line by line.
type Lot struct{ rows[lotRow] }

// NewLot writes the header.
func NewLot(w io.Writer) (*Lot, error) {
	t, err := begun[lotRow](w)
	return &Lot{t}, err
}

// Board writes a board's line, also of one that failed.
func (t *Lot) Board(v *ledger.Visit) error {
	r := lotRow{Board: v.Board, Lot: v.Lot, Error: v.Error}
	if v.Error == "" {
		m := v.Measured.Each()
		r.Verdict, r.Times = v.Verdict, timesOf(m)
		r.Duty, r.DutyU = pair(m[4])
	}
	if v.Error == "" && v.Cause != "" {
		r.Cause, r.Parts, r.Probability = v.Cause, strings.Join(v.CauseParts, " "), &v.Probability
	}
	return t.line(r)
}
