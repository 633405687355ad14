// Package stock reads what parts there are: a table with a column "value", and any of "kind", "tolerance" and "count".
//
//	value,tolerance,kind,count
//	47k,1 %,,20
//	4n7,5 %,,
//	10k,20 %,trimmer,3
package stock

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/acquire"
	"offbeat/acquire/internal/sheet"
	"offbeat/acquire/quantity"
)

// Kinds of parts.
const (
	Resistor  = "resistor"
	Capacitor = "capacitor"
	Trimmer   = "trimmer" // its value is the full travel
)

// Item is one line of the list.
type Item struct {
	Kind  string
	Value quantity.Quantity // ohm or farad, with its tolerance where one is given
	Count int               // 0: not said, so enough
	Line  int
}

// record is one row, every cell as written.
type record struct {
	Value     string `csv:"value"`
	Tolerance string `csv:"tolerance"`
	Kind      string `csv:"kind"`
	Count     string `csv:"count"`
}

var columns = []string{"value", "tolerance", "kind", "count"}

// units are what each kind is measured in; a row without a kind is what its value can be read as.
var units = map[string]quantity.Unit{Resistor: quantity.Ohm, Capacitor: quantity.Farad, Trimmer: quantity.Ohm}

// largest is the most that a list may hold, in bytes.
const largest = 16 << 20

// shownFaults is how many faults of one list are told.
const shownFaults = 10

// Load reads the file of that name.
func Load(name string) ([]Item, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: "the stock list cannot be opened: " + acquire.Reason(err).Error(), Err: err}
	}
	defer f.Close()
	return Read(name, f)
}

// Read reads a list; name is used in messages. Parts of which there are none are left out.
func Read(name string, r io.Reader) ([]Item, error) {
	l := &list{name: name}
	text, err := sheet.Decode(r, largest)
	switch {
	case err != nil:
		return nil, &acquire.Error{File: name, What: "the stock list cannot be read: " + err.Error(), Err: err}
	case len(bytes.TrimSpace(text)) == 0:
		return nil, l.fault(0, 0, "the stock list is empty", "a header with the column value", acquire.ErrEmpty)
	case len(text) > largest:
		return nil, l.fault(0, 0, "this is too large for a stock list", "a table with the column value", acquire.ErrShape)
	}
	l.csv = sheet.Reader(text)
	return l.read()
}

// list is a stock list being read.
type list struct {
	name   string
	csv    *csv.Reader
	column map[string]int
}

func (l *list) fault(line, column int, what, expect string, sentinel error) *acquire.Error {
	return &acquire.Error{File: l.name, Line: line, Column: column, What: what, Expect: expect, Err: sentinel}
}

// faultAt is a fault in a cell of the row just read, offset bytes into it.
func (l *list) faultAt(column string, offset int, what, expect string) *acquire.Error {
	line, at := l.csv.FieldPos(l.column[column])
	return l.fault(line, at+offset, what, expect, acquire.ErrSyntax)
}

func (l *list) read() ([]Item, error) {
	rows, err := gocsv.NewUnmarshaller(l.csv, record{})
	if err != nil {
		return nil, l.broken(err)
	}
	if err := l.header(rows); err != nil {
		return nil, err
	}
	var out []Item
	var faults []error
	for len(faults) < shownFaults {
		row, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			faults = append(faults, l.broken(err))
			continue
		}
		item, err := l.item(row.(record))
		switch {
		case err != nil:
			faults = append(faults, err)
		case item != nil:
			out = append(out, *item)
		}
	}
	return out, errors.Join(faults...)
}

func (l *list) broken(err error) error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return l.fault(0, 0, err.Error(), "a table", acquire.ErrSyntax)
	}
	return l.fault(p.Line, p.Column, p.Err.Error(), "one cell a column, and cells that hold the delimiter in quotes", acquire.ErrSyntax)
}

// header matches the columns, whatever their case and the blanks round them; others are passed over.
func (l *list) header(rows *gocsv.Unmarshaller) error {
	line, _ := l.csv.FieldPos(0)
	if err := rows.RenormalizeHeaders(sheet.Names); err != nil {
		return l.fault(line, 0, err.Error(), "a header", acquire.ErrSyntax)
	}
	l.column = map[string]int{}
	for i, h := range rows.Headers {
		if _, twice := l.column[h]; twice && slices.Contains(columns, h) {
			_, at := l.csv.FieldPos(i)
			return l.fault(line, at, fmt.Sprintf("column %q stands twice", h), "each column once", acquire.ErrSyntax)
		}
		l.column[h] = i
	}
	if _, ok := l.column["value"]; !ok {
		return l.fault(line, 0, `the header has no column "value"`, "the column value, then any of "+strings.Join(columns[1:], ", "), acquire.ErrShape)
	}
	return nil
}

// item reads a row; nil where there is none of the part.
func (l *list) item(r record) (*Item, error) {
	line, _ := l.csv.FieldPos(0)
	item := Item{Line: line}
	if text := strings.TrimSpace(r.Count); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 {
			return nil, l.faultAt("count", 0, fmt.Sprintf("%q is no count", text), "a whole number from 0")
		}
		if item.Count = n; n == 0 {
			return nil, nil
		}
	}
	if err := l.value(&item, strings.TrimSpace(r.Value), strings.ToLower(strings.TrimSpace(r.Kind))); err != nil {
		return nil, err
	}
	text := strings.TrimSpace(r.Tolerance)
	if text == "" {
		return &item, nil
	}
	if item.Value.Tolerance.Given() {
		return nil, l.faultAt("tolerance", 0, "the tolerance stands in the value too", "it once")
	}
	t, err := quantity.ParseTolerance(text, item.Value.Value, item.Value.Unit)
	if err == nil && t.Coverage > 0 {
		return nil, l.faultAt("tolerance", 0, "a coverage factor on a part's tolerance", "limits, such as 1 %")
	}
	item.Value.Tolerance = t
	return &item, l.locate("tolerance", err)
}

// value reads a value of the kind or, where none is said, of the one kind that it can be.
func (l *list) value(item *Item, text, kind string) error {
	if kind != "" {
		unit, ok := units[kind]
		if !ok {
			return l.faultAt("kind", 0, fmt.Sprintf("%q is no kind of part", kind), "one of resistor, capacitor, trimmer, or nothing")
		}
		q, err := quantity.Parse(text, unit)
		item.Kind, item.Value = kind, q
		return l.locate("value", err)
	}
	ohm, errOhm := quantity.Parse(text, quantity.Ohm)
	farad, errFarad := quantity.Parse(text, quantity.Farad)
	switch {
	case errOhm == nil && errFarad == nil:
		return l.faultAt("value", 0, fmt.Sprintf("%q may be a resistor or a capacitor", text), "its unit, or a column kind")
	case errFarad == nil:
		item.Kind, item.Value = Capacitor, farad
		return nil
	}
	item.Kind, item.Value = Resistor, ohm
	return l.locate("value", errOhm)
}

// locate gives a quantity's fault its place.
func (l *list) locate(column string, err error) error {
	if err == nil {
		return nil
	}
	var q *quantity.Error
	if !errors.As(err, &q) {
		return l.faultAt(column, 0, err.Error(), "a value such as 47k or 100n")
	}
	return l.faultAt(column, q.Offset, q.What, q.Expect)
}
