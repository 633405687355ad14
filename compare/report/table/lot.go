package table

import (
	"io"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/compare/lot"
	"offbeat/compare/report/words"
)

// LotRow is one board's line of the CSV table of `offbeat lot`, SI units.
type LotRow struct {
	Board       string   `csv:"board"`
	Lot         string   `csv:"lot"`
	Verdict     string   `csv:"verdict"`
	High        *float64 `csv:"high_time"`
	HighU       *float64 `csv:"high_time_u"`
	Low         *float64 `csv:"low_time"`
	LowU        *float64 `csv:"low_time_u"`
	Frequency   *float64 `csv:"frequency"`
	FrequencyU  *float64 `csv:"frequency_u"`
	Duty        *float64 `csv:"duty_factor"`
	DutyU       *float64 `csv:"duty_factor_u"`
	Cause       string   `csv:"cause"`
	Parts       string   `csv:"parts"`
	Probability *float64 `csv:"probability"`
	Error       string   `csv:"error"`
}

// Lot writes the table line by line.
type Lot struct {
	w cells
}

// NewLot writes the header.
func NewLot(w io.Writer) (*Lot, error) {
	t := &Lot{newCells(w)}
	return t, gocsv.MarshalCSV([]LotRow{}, t.w)
}

// Board writes a board's line, also of one that failed.
func (t *Lot) Board(o *lot.Outcome) error {
	r := LotRow{Board: o.Board.Name, Lot: o.Board.Lot}
	if o.Err != nil {
		r.Error = o.Err.Error()
	} else if f := o.Finding; f != nil {
		r.Verdict = f.Verdict.Result
		m := words.Pick(&f.Measured)
		for i, cells := range [5][2]**float64{{&r.High, &r.HighU}, {&r.Low, &r.LowU}, {}, {&r.Frequency, &r.FrequencyU}, {&r.Duty, &r.DutyU}} {
			if m[i] != nil && cells[0] != nil {
				*cells[0], *cells[1] = &m[i].Value, &m[i].Uncertainty
			}
		}
		if len(f.Causes) > 0 {
			c := f.Causes[0]
			r.Cause, r.Parts, r.Probability = c.Cause, strings.Join(c.Parts, " "), &c.Probability
		}
	}
	return gocsv.MarshalCSVWithoutHeaders([]LotRow{r}, t.w)
}
