// Package table writes the numbers of a document as flat CSV tables, SI units: one of records, and those of many boards, a
// board or a visit a line.
package table

import (
	"io"

	"github.com/gocarina/gocsv"

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
