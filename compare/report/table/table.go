// Package table writes the numbers of a document as flat CSV tables, SI units: one of records, and those of many boards, a
// board or a visit a line.
package table

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gocarina/gocsv"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/report/document"
)

// Write writes the records of a document with a header.
func Write(w io.Writer, d *document.Document) error {
	rows := d.Records
	if rows == nil {
		rows = []document.Record{}
	}
	return gocsv.MarshalCSV(rows, newCells(w))
}

// rows is a table that is written line by line.
type rows[R any] struct{ w cells }

// begun writes the header.
func begun[R any](w io.Writer) (rows[R], error) {
	t := rows[R]{newCells(w)}
	return t, gocsv.MarshalCSV([]R{}, t.w)
}

func (t rows[R]) line(r R) error { return gocsv.MarshalCSVWithoutHeaders([]R{r}, t.w) }

// Times are the columns of what was measured of a board, in s and Hz, with standard uncertainties; empty where it was not.
type Times struct {
	High       *float64 `csv:"high_time"`
	HighU      *float64 `csv:"high_time_u"`
	Low        *float64 `csv:"low_time"`
	LowU       *float64 `csv:"low_time_u"`
	Frequency  *float64 `csv:"frequency"`
	FrequencyU *float64 `csv:"frequency_u"`
}

// timesOf fills them from the quantities in the order of compare.Quantities.
func timesOf(m [5]*compare.Measured) (t Times) {
	t.High, t.HighU = pair(m[0])
	t.Low, t.LowU = pair(m[1])
	t.Frequency, t.FrequencyU = pair(m[3])
	return t
}

func pair(m *compare.Measured) (value, uncertainty *float64) {
	if m == nil {
		return nil, nil
	}
	return &m.Value, &m.Uncertainty
}

// cells writes CSV in which a spreadsheet finds no formula: a cell that begins like one, and is no number, begins with
// an apostrophe.
type cells struct{ *gocsv.SafeCSVWriter }

func newCells(w io.Writer) cells { return cells{gocsv.NewSafeCSVWriter(csv.NewWriter(w))} }

// Write writes one row.
func (t cells) Write(row []string) error {
	row = slices.Clone(row)
	for i, c := range row {
		begin := strings.TrimLeft(c, " \t\r\n\u00a0\u3000")
		if first, _ := utf8.DecodeRuneInString(begin); !strings.ContainsRune("=+-@＝＋－＠", first) {
			continue
		}
		if _, err := strconv.ParseFloat(c, 64); err != nil {
			row[i] = "'" + c
		}
	}
	return t.SafeCSVWriter.Write(row)
}

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
