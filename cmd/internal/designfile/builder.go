package designfile

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// builder turns entries into a design.
type builder struct {
	design     *fit.Design
	subject    *subject // nil until the circuit or the wiring is read
	top        place    // the design as a whole
	entries    []entry
	tolerances []string      // as typed: R=1%
	rooms      func() []room // every table, for the circuit as far as it is known
}

// room is one table of a design and what reads its keys.
type room struct {
	table string
	keys  []key
	done  func() error // after the last key
}

// key is a name in a table, and what reads its value; nil: the room reads all of them at its end.
type key struct {
	name string
	read func(e *entry) error
}

// names are the keys'.
func (r *room) names() (out []string) {
	for _, k := range r.keys {
		out = append(out, k.name)
	}
	return out
}

// table is the table that an entry stands in; "" at the top.
func table(e *entry) string {
	if len(e.path) == 1 {
		return ""
	}
	return e.path[0]
}

// unknown complains about a key, and names the nearest of those that may stand there and do not yet, or the
// table that it belongs in.
func (b *builder) unknown(e *entry, word string, names []string) error {
	what := "unknown key " + quoted(word)
	switch {
	case len(e.path) == 2 && table(e) == "parts", len(e.path) > 2 && table(e) == "odds":
		what = "the " + b.subject.name + " has no part " + quoted(word)
	case table(e) == "readings":
		what = "the " + b.subject.name + " has no part or node " + quoted(word)
	}
	var free []string
	for _, n := range names {
		given := func(o entry) bool {
			own := strings.Join(append(slices.Clone(e.path[:len(e.path)-1]), n), ".")
			return o.kind != header && strings.HasPrefix(o.name()+".", own+".")
		}
		if !slices.ContainsFunc(b.entries, given) {
			free = append(free, n)
		}
	}
	if len(names) == 0 {
		return e.key.fail(what, "no parts: it keeps no time", "")
	}
	do := Meant("", word, free)
	if t := b.belongs(word, table(e)); do == "" && t != "" {
		do = fmt.Sprintf("%s belongs in [%s]", word, t)
	}
	return e.key.fail(what, "one of "+strings.Join(names, ", "), do)
}

// belongs finds another table that has the key.
func (b *builder) belongs(word, not string) string {
	for _, r := range b.rooms()[1:] {
		if r.table != not && slices.Contains(r.names(), word) {
			return r.table
		}
	}
	return ""
}

func (b *builder) note(format string, args ...any) {
	b.design.Notes = append(b.design.Notes, fmt.Sprintf(format, args...))
}

// subject is what the design is of, as far as its keys depend on it.
type subject struct {
	name     string
	parts    []circuit.Spec // that have a value
	diodes   []string
	latch    bool
	onePulse bool
	families []string // of its device, the default first
	wired    bool
}

// names are its parts.
func (s *subject) names() []string {
	if s == nil {
		return nil
	}
	var names []string
	for _, p := range s.parts {
		names = append(names, p.Name)
	}
	return append(names, s.diodes...)
}

// entryOf finds a key's entry.
func (b *builder) entryOf(name string) *entry {
	for i := range b.entries {
		if b.entries[i].name() == name && b.entries[i].kind != header {
			return &b.entries[i]
		}
	}
	return nil
}

// signed reads a value that may be below zero, as a voltage may be below ground.
func signed(e *entry, name string, unit quantity.Unit, limits bool) (fit.Reading, error) {
	trimmed := strings.TrimLeft(e.value, " ")
	for _, minus := range []string{"-", "−"} {
		if rest, below := strings.CutPrefix(trimmed, minus); below {
			up := *e
			up.value = rest
			up.at.offset += len(e.value) - len(rest)
			r, err := reading(&up, name, unit, limits)
			r.Value = -r.Value
			return r, err
		}
	}
	return reading(e, name, unit, limits)
}

// reading reads a value with its limits, or with a coverage factor.
func reading(e *entry, name string, unit quantity.Unit, limits bool) (fit.Reading, error) {
	r := fit.Reading{Name: name}
	q, err := e.quantity(unit)
	if err != nil {
		return r, err
	}
	minus, plus := q.Tolerance.Absolute(q.Value)
	switch {
	case limits && !q.Tolerance.Given():
		return r, e.at.fail(e.name()+" has no limits", fmt.Sprintf("the meter's limits too, such as %q", strings.TrimSpace(e.value)+" ± 0.3 %"), "")
	case minus != plus:
		return r, e.at.fail(e.name()+" has limits that differ", "the same limit to both sides, such as ± 1 %", "")
	}
	r.Value, r.Half = q.Value, plus
	if k := q.Tolerance.Coverage; k > 0 {
		r.Half, r.Standard = 0, plus/k
	}
	return r, nil
}
