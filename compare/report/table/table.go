// Package table writes the numbers of a document as flat CSV tables, SI units: one of records, and those of many boards, a
// board or a visit a line.
package table

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gocarina/gocsv"

	"offbeat/compare"
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
