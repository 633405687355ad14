// Package stock reads what parts there are: a table with a column "value", and any of "kind", "tolerance" and "count".
//
//	value,tolerance,kind,count
//	47k,1 %,,20
//	4n7,5 %,,
//	10k,20 %,trimmer,3
package stock

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

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

// table is what a stock list is.
var table = &sheet.Kind{Name: "stock list", Largest: 16 << 20, Columns: []string{"value", "tolerance", "kind", "count"}, Required: 1}

// units are what each kind is measured in; a row without a kind is what its value can be read as.
var units = map[string]quantity.Unit{Resistor: quantity.Ohm, Capacitor: quantity.Farad, Trimmer: quantity.Ohm}

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
func Read(name string, r io.Reader) (out []Item, err error) {
	_, err = sheet.Read(name, r, table, func(t *sheet.Table, row record) error {
		item, err := list{t}.item(row)
		if err == nil && item != nil {
			out = append(out, *item)
		}
		return err
	})
	return out, err
}

// list is a stock list being read.
type list struct{ *sheet.Table }

// faultAt is a fault in a cell of the row just read, offset bytes into it.
func (l list) faultAt(column string, offset int, what, expect string) *acquire.Error {
	line, at := l.At(column)
	return l.Fault(line, at+offset, what, expect, "", acquire.ErrSyntax)
}

// item reads a row; nil where there is none of the part.
func (l list) item(r record) (*Item, error) {
	item := Item{Line: l.Line()}
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
func (l list) value(item *Item, text, kind string) error {
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
func (l list) locate(column string, err error) error {
	if err == nil {
		return nil
	}
	var q *quantity.Error
	if !errors.As(err, &q) {
		return l.faultAt(column, 0, err.Error(), "a value such as 47k or 100n")
	}
	return l.faultAt(column, q.Offset, q.What, q.Expect)
}
