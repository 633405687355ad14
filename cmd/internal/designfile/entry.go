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

// Flags are what stands for a design on the command line, each as typed. The zero value stands for nothing.
type Flags struct {
	Circuit, Supply, Family, Inputs, History, Clock string
	Scale, Zero                                     string   // limits of the channel that shows the capacitor
	Parts                                           []string // NAME=VALUE, also NAME.kind=film and the like
	Targets                                         []string // QUANTITY=VALUE
	Was                                             []string // likewise, as it used to be
	Readings                                        []string // NAME=VALUE
	Tolerances                                      []string // R=1%, C=10%: of parts that have none of their own
}

// entries lists what the flags say.
func (f Flags) entries() ([]entry, error) {
	var out []entry
	for _, s := range []struct{ flag, key, value string }{
		{"--circuit", "circuit", f.Circuit},
		{"--supply", "supply", f.Supply},
		{"--family", "timer.family", f.Family},
		{"--inputs", "timer.inputs", f.Inputs},
		{"--history", "history", f.History},
		{"--clock", "instrument.clock", f.Clock},
		{"--channel-scale", "instrument.channel_scale", f.Scale},
		{"--channel-zero", "instrument.channel_zero", f.Zero},
	} {
		if s.value != "" {
			at := place{file: s.flag, text: s.value, typed: true}
			out = append(out, entry{path: strings.Split(s.key, "."), value: s.value, key: at, at: at, plain: true})
		}
	}
	for _, s := range []struct {
		flag, table, example string
		values               []string
	}{
		{"--part", "parts", "R1=10k:1%", f.Parts},
		{"--target", "target", "frequency=138Hz:3%", f.Targets},
		{"--was", "was", "frequency=138Hz:3%", f.Was},
		{"--reading", "readings", "R2=46.93k:0.3%", f.Readings},
	} {
		for _, v := range s.values {
			key := place{file: s.flag, text: v, typed: true}
			name, value, found := strings.Cut(v, "=")
			if !found || strings.TrimSpace(name) == "" {
				return nil, key.fail(quoted(v)+" names nothing to set", "NAME=VALUE, such as "+s.example, "")
			}
			at := key
			at.offset = len(name) + 1
			path := append([]string{s.table}, strings.Split(strings.TrimSpace(name), ".")...)
			out = append(out, entry{path: path, value: value, key: key, at: at, plain: true})
		}
	}
	return out, nil
}
