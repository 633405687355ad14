package manifest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/acquire"
	"offbeat/acquire/internal/sheet"
)

// columns are the table's, the two that must be there first.
var columns = []string{"board", "capture", "lot", "station", "operator", "time", "temperature", "supply", "readings"}

const required = 2

// largest is the most that a manifest may hold, in bytes; a larger one is a capture in the wrong place.
const largest = 64 << 20

// shownFaults is how many faults of one table are listed.
const shownFaults = 10

// Read reads a table; name is used in messages, capture files are seen from folder.
func Read(name, folder string, r io.Reader, opt Options) (*Manifest, error) {
	t := &table{name: name, folder: folder, opt: opt, column: map[string]int{}}
	text, err := sheet.Decode(r, largest)
	if err != nil {
		return nil, &acquire.Error{File: name, What: "the manifest cannot be read: " + err.Error(), Err: err}
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, t.fault(0, 0, "the manifest is empty", "a header with the columns board and capture", "", acquire.ErrEmpty)
	}
	if len(text) > largest {
		return nil, t.fault(0, 0, "this is too large for a manifest", "a table with the columns board and capture", "", acquire.ErrShape)
	}
	t.csv = sheet.Reader(text)
	return t.read()
}

func (t *table) read() (*Manifest, error) {
	m := &Manifest{Source: t.name}
	um, err := gocsv.NewUnmarshaller(t.csv, record{})
	if err != nil {
		f := t.broken(err)
		f.What, f.Expect, f.Do = "the header cannot be read: "+f.What, "the columns board and capture, then any of "+strings.Join(columns[required:], ", "), "the design comes first on the command line, then the manifest"
		f.Err = acquire.ErrShape
		return nil, f
	}
	if err := t.header(um, m); err != nil {
		return nil, err
	}
	var faults []error
	for len(faults) < shownFaults {
		row, err := um.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			faults = append(faults, t.broken(err))
		} else if err := t.add(m, row.(record)); err != nil {
			faults = append(faults, err)
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	if len(m.Entries) == 0 {
		return nil, t.fault(1, 0, "the manifest lists no board", "a row for each capture below the header", "", acquire.ErrEmpty)
	}
	return m, nil
}

// broken gives a fault of the table's grammar its place. After one the reader goes on with the next row.
func (t *table) broken(err error) *acquire.Error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return t.fault(0, 0, err.Error(), "a table", "", acquire.ErrSyntax)
	}
	if errors.Is(p.Err, csv.ErrFieldCount) {
		return t.fault(p.Line, 0, "this row has more or fewer cells than the header", "one cell a column, empty ones too", "put cells that hold the delimiter in quotes", acquire.ErrSyntax)
	}
	return t.fault(p.Line, p.Column, p.Err.Error(), "a quoted cell to begin and end with quotes", "", acquire.ErrSyntax)
}

// header matches the columns, whatever their case and the blanks round them.
func (t *table) header(um *gocsv.Unmarshaller, m *Manifest) error {
	line, _ := t.csv.FieldPos(0)
	if err := um.RenormalizeHeaders(sheet.Names); err != nil {
		return t.fault(line, 0, err.Error(), "a header", "", acquire.ErrSyntax)
	}
	for i, h := range um.Headers {
		_, column := t.csv.FieldPos(i)
		if _, twice := t.column[h]; twice {
			return t.fault(line, column, fmt.Sprintf("column %q stands twice", h), "each column once", "", acquire.ErrSyntax)
		}
		if !slices.Contains(columns, h) {
			m.Notes = append(m.Notes, fmt.Sprintf("%s:%d:%d: column %q is not used; columns are %s", t.name, line, column, h, strings.Join(columns, ", ")))
			continue
		}
		t.column[h] = i
	}
	for _, c := range columns[:required] {
		if _, ok := t.column[c]; !ok {
			return t.fault(line, 0, fmt.Sprintf("the header has no column %q", c), "the columns board and capture, then any of "+strings.Join(columns[required:], ", "),
				"if this is a capture, list it in a manifest, or name its folder", acquire.ErrShape)
		}
	}
	return nil
}

// add turns a row into entries: one, or one for each file that the capture's pattern matches.
func (t *table) add(m *Manifest, r record) error {
	line, _ := t.csv.FieldPos(0)
	oneLine := func(name string) string { return strings.Join(strings.Fields(name), " ") }
	e := Entry{Board: oneLine(r.Board), Lot: oneLine(r.Lot), Station: oneLine(r.Station), Operator: oneLine(r.Operator), Line: line}
	for _, must := range []struct{ column, value string }{{"board", e.Board}, {"capture", strings.TrimSpace(r.Capture)}} {
		if must.value == "" {
			l, c := t.at(must.column)
			return t.fault(l, c, "no "+must.column, "every row to name its board and its capture", "", acquire.ErrSyntax)
		}
	}
	if err := t.conditions(&e, r); err != nil {
		return err
	}
	files, err := t.files(strings.TrimSpace(r.Capture))
	if err != nil {
		return err
	}
	for _, f := range files {
		e.Capture = f
		m.Entries = append(m.Entries, e)
	}
	return nil
}

// files is the capture's path, or the files its pattern stands for. Whether a file can be read is found out
// with the board, not here.
func (t *table) files(capture string) ([]string, error) {
	path := capture
	if !filepath.IsAbs(path) {
		path = filepath.Join(t.folder, path)
	}
	if _, err := os.Stat(path); err == nil || !isPattern(path) {
		return []string{path}, nil
	}
	files, err := expand(path)
	if err != nil {
		l, c := t.at("capture")
		return nil, t.fault(l, c, fmt.Sprintf("%q: %v", capture, err), "a capture, or a pattern that matches some", "", acquire.ErrEmpty)
	}
	return files, nil
}
