package manifest

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/internal/sheet"
	"offbeat/acquire/quantity"
)

// conditions reads the cells that are more than names.
func (t *table) conditions(e *Entry, r record) error {
	var err error
	if e.Time, err = t.time(r.Time); err != nil {
		return err
	}
	if e.Temperature, err = t.temperature(r.Temperature); err != nil {
		return err
	}
	if text := strings.TrimSpace(r.Supply); text != "" {
		q, err := t.quantity("supply", 0, text, quantity.Volt)
		if err != nil {
			return err
		}
		e.Supply = &q
	}
	e.Readings, err = t.readings(r.Readings)
	return err
}

// layouts are the ISO 8601 forms read, the fullest first.
var layouts = []string{
	time.RFC3339Nano, "2006-01-02T15:04Z07:00",
	"2006-01-02T15:04:05", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02",
}

// Time reads an ISO 8601 time; without a zone it is UTC. Day says that only the day was given.
func Time(text string) (at time.Time, day, ok bool) {
	for i, l := range layouts {
		if at, err := time.Parse(l, text); err == nil {
			return at.UTC(), i == len(layouts)-1, true
		}
	}
	return time.Time{}, false, false
}

func (t *table) time(cell string) (time.Time, error) {
	text := strings.TrimSpace(cell)
	if text == "" {
		return time.Time{}, nil
	}
	if at, _, ok := Time(text); ok {
		return at, nil
	}
	l, c := t.At("time")
	return time.Time{}, t.Fault(l, c, fmt.Sprintf("%q is no time", text), "ISO 8601, such as 2026-01-31T14:05:00Z or 2026-01-31", "", acquire.ErrSyntax)
}

func (t *table) temperature(cell string) (*float64, error) {
	text := strings.TrimSpace(cell)
	if text == "" {
		return nil, nil
	}
	bare := text
	for _, unit := range []string{"°C", "℃", "C"} {
		bare = strings.TrimSpace(strings.TrimSuffix(bare, unit))
	}
	v, err := strconv.ParseFloat(strings.Replace(bare, ",", ".", 1), 64)
	if err != nil || strings.ContainsAny(bare, "xXnN_pP") || v < -273.15 || v > 1000 {
		l, c := t.At("temperature")
		return nil, t.Fault(l, c, fmt.Sprintf("%q is no temperature", text), "degrees Celsius, such as 23.5 or 23.5 °C", "", acquire.ErrSyntax)
	}
	return &v, nil
}

// readings reads "R2=46.93k ± 0.3 %; C1=101n ± 1 %".
func (t *table) readings(cell string) ([]Reading, error) {
	var out []Reading
	offset := 0
	for part := range strings.SplitSeq(cell, ";") {
		start := offset
		offset += len(part) + 1
		if strings.TrimSpace(part) == "" {
			continue
		}
		name, value, found := strings.Cut(part, "=")
		name = strings.TrimSpace(name)
		unit, known := t.opt.Units[name]
		l, c := t.At("readings")
		c += start
		if !found || !known {
			return nil, t.Fault(l, c, fmt.Sprintf("%q is no reading of this design", strings.TrimSpace(part)),
				"NAME=VALUE with a name out of "+strings.Join(slices.Sorted(maps.Keys(t.opt.Units)), ", "), "several readings are parted by semicolons", acquire.ErrSyntax)
		}
		q, err := t.quantity("readings", start+strings.Index(part, "=")+1, value, unit)
		if err != nil {
			return nil, err
		}
		at := acquire.Error{File: t.name, Line: l, Column: c}
		if !q.Tolerance.Given() || q.Tolerance.Minus != q.Tolerance.Plus {
			at.What, at.Expect, at.Err = name+" is read without one limit to both sides", fmt.Sprintf("the meter's limits too, such as %q", strings.TrimSpace(part)+" ± 0.3 %"), acquire.ErrSyntax
			return nil, &at
		}
		out = append(out, Reading{name, q, at})
	}
	return out, nil
}

// quantity reads text, which begins at that byte of the cell.
func (t *table) quantity(column string, offset int, text string, unit quantity.Unit) (quantity.Quantity, error) {
	q, err := quantity.Parse(strings.TrimSpace(text), unit)
	if err == nil {
		return q, nil
	}
	l, c := t.At(column)
	f := t.Fault(l, c, fmt.Sprintf("%s: %v", column, err), "", "", acquire.ErrSyntax)
	if e, ok := errors.AsType[*quantity.Error](err); ok {
		lead := len(text) - len(strings.TrimLeft(text, " \t"))
		f.Column += offset + lead + e.Offset
		f.What, f.Expect, f.Do = column+": "+e.What, e.Expect, e.Do
	}
	return q, f
}

// record is one row of the table, every cell as written.
type record struct {
	Board       string `csv:"board"`
	Capture     string `csv:"capture"`
	Lot         string `csv:"lot"`
	Station     string `csv:"station"`
	Operator    string `csv:"operator"`
	Time        string `csv:"time"`
	Temperature string `csv:"temperature"`
	Supply      string `csv:"supply"`
	Readings    string `csv:"readings"`
}

// table is a manifest being read.
type table struct {
	*sheet.Table
	name, folder string
	opt          Options
	like         *likeness
}

// Entry is one capture of one board.
type Entry struct {
	Board       string
	Capture     string // file name, usable from the working directory
	Lot         string
	Station     string
	Operator    string
	Time        time.Time          // zero where not given
	Temperature *float64           // °C; nil where not given
	Supply      *quantity.Quantity // V; nil where not given
	Readings    []Reading
	Line        int // of the table; 0 where there is none
}

// Reading is a direct reading of a part, of the supply or of the control pin.
type Reading struct {
	Name     string
	Quantity quantity.Quantity
	At       acquire.Error // its place, for messages: File, Line and Column
}

// Manifest is the list.
type Manifest struct {
	Source  string
	Entries []Entry
	Notes   []string // what was not used
}

// Options of a reading.
type Options struct {
	Units map[string]quantity.Unit // of the names that may stand in readings; nil: readings are refused
	Input io.Reader                // what the name "-" reads; nil: standard input
}
