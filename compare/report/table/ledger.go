package table

import (
	"io"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/compare/ledger"
	"offbeat/compare/report/words"
)

// LedgerRow is one line of the CSV table of `offbeat ledger`, SI units.
type LedgerRow struct {
	Time        string   `csv:"time"`
	Board       string   `csv:"board"`
	Lot         string   `csv:"lot"`
	Station     string   `csv:"station"`
	Operator    string   `csv:"operator"`
	Temperature *float64 `csv:"temperature"`
	Supply      *float64 `csv:"supply"`
	Verdict     string   `csv:"verdict"`
	High        *float64 `csv:"high_time"`
	HighU       *float64 `csv:"high_time_u"`
	Low         *float64 `csv:"low_time"`
	LowU        *float64 `csv:"low_time_u"`
	Frequency   *float64 `csv:"frequency"`
	FrequencyU  *float64 `csv:"frequency_u"`
	Cause       string   `csv:"cause"`
	Parts       string   `csv:"parts"`
	Probability float64  `csv:"probability"`
	Revision    string   `csv:"design_revision"`
	Tool        string   `csv:"tool_version"`
	Captures    string   `csv:"captures"`
	SHA256      string   `csv:"sha256"`
	Error       string   `csv:"error"`
	Key         string   `csv:"key"`
	Superseded  string   `csv:"superseded_by"`
}

// Ledger writes results line by line.
type Ledger struct {
	w cells
}

// NewLedger writes the header.
func NewLedger(w io.Writer) (*Ledger, error) {
	t := &Ledger{newCells(w)}
	return t, gocsv.MarshalCSV([]LedgerRow{}, t.w)
}

// Visit writes a result's line.
func (t *Ledger) Visit(v *ledger.Visit) error {
	r := LedgerRow{v.At.Format("2006-01-02T15:04:05.999999999Z07:00"), v.Board, v.Lot, v.Station, v.Operator, v.Temperature, v.Supply, v.Verdict,
		nil, nil, nil, nil, nil, nil, v.Cause, strings.Join(v.CauseParts, " "), v.Probability, v.Revision, v.Tool, "", "", v.Error, v.Key, v.SupersededBy}
	m := words.Pick(&v.Measured)
	for k, cells := range map[int][2]**float64{0: {&r.High, &r.HighU}, 1: {&r.Low, &r.LowU}, 3: {&r.Frequency, &r.FrequencyU}} {
		if m[k] != nil {
			*cells[0], *cells[1] = &m[k].Value, &m[k].Uncertainty
		}
	}
	var names, digests []string
	for _, c := range v.Captures {
		names, digests = append(names, c.Name), append(digests, c.SHA256)
	}
	r.Captures, r.SHA256 = strings.Join(names, " "), strings.Join(digests, " ")
	return gocsv.MarshalCSVWithoutHeaders([]LedgerRow{r}, t.w)
}
