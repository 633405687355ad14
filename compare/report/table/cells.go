package table

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gocarina/gocsv"
)

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
