package table

import (
	"io"
	"strings"

	"offbeat/compare/lot"
	"offbeat/compare/report/words"
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
func (t *Lot) Board(o *lot.Outcome) error {
	r := lotRow{Board: o.Board.Name, Lot: o.Board.Lot}
	if o.Err != nil {
		r.Error = o.Err.Error()
	} else if f := o.Finding; f != nil {
		m := words.Pick(&f.Measured)
		r.Verdict, r.Times = f.Verdict.Result, timesOf(m)
		r.Duty, r.DutyU = pair(m[4])
		if len(f.Causes) > 0 {
			c := f.Causes[0]
			r.Cause, r.Parts, r.Probability = c.Cause, strings.Join(c.Parts, " "), &c.Probability
		}
	}
	return t.line(r)
}
