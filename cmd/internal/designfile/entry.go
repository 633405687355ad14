package designfile

import (
	"errors"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// kind is what a value is written as.
type kind int

const (
	text kind = iota
	number
	other  // a truth value, a date, a list
	header // no value: the line that begins a table
)

// entry is one value of a design.
type entry struct {
	path  []string // the key: parts, C1, value
	kind  kind
	value string // without its quotes
	key   place  // of the key
	at    place  // of the value
	first int    // of a text in three quotes: the line where it begins, from 1; else 0
	plain bool   // the characters of value stand one for one at the place (no escapes)
	raw   span   // of the value as written, in bytes; of a header, where its key begins
	inner bool   // in a table in braces
}

func (e *entry) name() string { return strings.Join(e.path, ".") }

// last is the key's own name.
func (e *entry) last() string { return e.path[len(e.path)-1] }

// quantity reads the value in a unit.
func (e *entry) quantity(unit quantity.Unit) (quantity.Quantity, error) {
	if e.kind == other {
		return quantity.Quantity{}, e.at.fail(e.name()+" is neither a text nor a number", "a value in quotes, such as "+e.example(unit), "")
	}
	q, err := quantity.Parse(e.value, unit)
	return q, e.locate(err)
}

func (e *entry) example(unit quantity.Unit) string {
	return map[quantity.Unit]string{quantity.Ohm: `"10k ± 1 %"`, quantity.Farad: `"100n ± 10 %"`, quantity.Volt: `"5 V ± 2 %"`}[unit]
}

// locate gives a quantity's error its place.
func (e *entry) locate(err error) error {
	var q *quantity.Error
	if !errors.As(err, &q) {
		return err
	}
	at := e.at
	if e.plain {
		at.offset += q.Offset
	}
	return at.fail(e.name()+": "+q.What, q.Expect, q.Do)
}

// word reads the value as one of a list of words; the first is the default's place in messages.
func (e *entry) word(allowed []string) (string, error) {
	if e.kind == text && slices.Contains(allowed, e.value) {
		return e.value, nil
	}
	return "", e.at.fail("unknown "+e.name()+" "+quoted(e.value), "one of "+strings.Join(allowed, ", "), Meant("", e.value, allowed))
}

func quoted(s string) string { return `"` + s + `"` }

// override drops the entries whose key a later list sets, and joins the two.
func override(file, typed []entry) []entry {
	var out []entry
	for _, e := range file {
		taken := func(t entry) bool {
			a, b := e.name(), t.name()
			// A part's new value brings its own tolerance.
			return a == b || t.path[0] == "parts" && len(t.path) == 2 && slices.Contains([]string{b + ".value", b + ".tolerance"}, a)
		}
		if !slices.ContainsFunc(typed, taken) {
			out = append(out, e)
		}
	}
	return append(out, typed...)
}

// span is where something stands in a text, in bytes.
type span struct{ from, to int }
