package designfile

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// marks are what may stand between a part and what is known, the longer first where one begins another.
var marks = []struct {
	text string
	kind fit.ConditionKind
}{
	{"||", fit.InParallel},
	{"+", fit.InSeries},
	{"=", fit.Swapped},
	{" at ", fit.Fraction},
}

// whole are the conditions of the whole board.
var whole = []struct {
	name string
	kind fit.ConditionKind
	unit quantity.Unit
}{
	{"supply", fit.SupplyAt, quantity.Volt},
	{"control", fit.ControlAt, quantity.Volt},
	{"temperature", fit.Temperature, quantity.Celsius},
	{"clock", fit.OtherClock, quantity.Number},
}

// Condition reads what was special about a capture, as typed after --with.
func Condition(text string, d *fit.Design) (fit.Condition, error) {
	c := fit.Condition{Text: text}
	at := place{file: "--with", text: text, typed: true}
	name, value, kind, offset := cut(text)
	if name == "" {
		return c, at.fail(quoted(text)+" is no condition", "one such as "+quoted("R2 || 100k ± 1 %")+", "+quoted("C1 = 100n ± 1 %")+" or "+quoted("supply = 9 V ± 1 %"), "")
	}
	e := entry{path: []string{name}, value: value, key: at, at: at, plain: true}
	e.at.offset = offset
	c.Kind = kind
	k, err := circuit.Of(d)
	if err != nil {
		return c, err
	}
	for _, w := range whole {
		if w.kind == fit.ControlAt && k.Wiring != nil && !k.ControlAlone(name) {
			continue // a node like others
		}
		if name == w.name && kind == fit.Swapped {
			c.Kind = w.kind
			if w.kind == fit.OtherClock {
				limit, err := e.clock()
				c.Known = fit.Reading{Name: name, Value: limit}
				return c, err
			}
			var err error
			c.Known, err = reading(&e, name, w.unit, false)
			return c, err
		}
	}
	slot, ok := k.Slot(name)
	if !ok {
		return onNode(c, name, &e, k)
	}
	c.Part = name
	unit := k.Parts[slot].Kind.Unit()
	if c.Kind == fit.Fraction {
		if unit = quantity.Number; isTemperature(value) {
			c.Kind, unit = fit.Warmed, quantity.Celsius
		}
	}
	c.Known, err = reading(&e, name, unit, false)
	if c.Kind == fit.InParallel && unit == quantity.Farad && inOhm(value, c.Known, err) {
		if across, fault := reading(&e, name, quantity.Ohm, false); fault == nil {
			c.Kind, c.Known = fit.Bypassed, across
			return c, nil
		}
	}
	return c, err
}

// onNode reads what hangs on a node for a capture: a resistor or a capacitor to ground, or a source.
func onNode(c fit.Condition, name string, e *entry, k *circuit.Circuit) (fit.Condition, error) {
	if k.Latch {
		return c, noSubject(e.key, name, k)
	}
	node, ok := k.Wiring.Node(name)
	if !ok {
		return c, noSubject(e.key, name, k)
	}
	c.Part = node
	var err error
	switch c.Kind {
	case fit.InParallel:
		c.Kind = fit.StrayTo
		if c.Known, err = reading(e, node, quantity.Farad, false); inOhm(e.value, c.Known, err) {
			if across, fault := reading(e, node, quantity.Ohm, false); fault == nil {
				c.Kind, c.Known, err = fit.ToGround, across, nil
			}
		}
	case fit.Swapped:
		c.Kind = fit.HeldAt
		if c.Known, err = signed(e, node, quantity.Volt, false); k.Holds(node) {
			return c, err
		}
	default:
		return c, e.key.fail(node+" is a node, which has no value of its own", quoted(node+" || 10M")+", a part from it to ground, or "+quoted(node+" = 3 V")+", a source", "")
	}
	if err != nil {
		return c, err
	}
	if fault, ok := errors.AsType[*wiring.Error](k.Wiring.Loose(node)); ok {
		return c, e.key.fail(fault.What, fault.Want, "")
	}
	return c, nil
}

// inOhm says whether what was read as a capacitance may be a resistance.
func inOhm(text string, farad fit.Reading, err error) bool {
	return (err != nil || farad.Value >= largestCapacitor) && strings.ContainsAny(text, ohms)
}

// cut finds the mark; name is empty where there is none.
func cut(text string) (name, value string, kind fit.ConditionKind, offset int) {
	first := len(text)
	for _, m := range marks {
		if i := strings.Index(text, m.text); i >= 0 && i < first {
			first, kind, offset = i, m.kind, i+len(m.text)
		}
	}
	if first == len(text) {
		return "", "", 0, 0
	}
	return strings.TrimSpace(text[:first]), text[offset:], kind, offset
}

func isTemperature(value string) bool {
	return strings.Contains(value, "°") || strings.Contains(value, "℃") || strings.HasSuffix(strings.TrimSpace(value), "C")
}

func noSubject(at place, name string, k *circuit.Circuit) error {
	var names []string
	for _, p := range k.Parts {
		names = append(names, p.Name)
	}
	for _, w := range whole {
		if w.kind != fit.ControlAt || k.Wiring != nil && k.Wiring.Device.Node(wiring.PinControl) != "" {
			names = append(names, w.name)
		}
	}
	what := fmt.Sprintf("the %s circuit has no part %s", k.Name, quoted(name))
	if k.Wiring != nil {
		what = fmt.Sprintf("the board has no part or node %s", quoted(name))
		for _, n := range k.Wiring.Nodes {
			if k.Wiring.Loose(n) == nil && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	return at.fail(what, "one of "+strings.Join(names, ", "), Meant("", name, names))
}

// Looks reads what was seen of a board, each as typed after --look: "marking R2 wrong".
func Looks(texts []string, d *fit.Design) error {
	for _, text := range texts {
		if err := look(text, d, place{file: "--look", text: text, typed: true}); err != nil {
			return err
		}
	}
	return nil
}

// look reads one: the look's name, the part where it is of one, the outcome; "of", commas and colons count for nothing.
func look(text string, d *fit.Design, at place) error {
	words := strings.Fields(strings.NewReplacer(":", " ", ",", " ", "=", " ").Replace(text))
	words = slices.DeleteFunc(words, func(w string) bool { return w == "of" || w == "at" || w == "the" })
	c, err := circuit.Of(d)
	if err != nil {
		return err
	}
	l, rest := lookOf(words)
	if l == nil {
		var names []string
		for i := range cause.Looks {
			names = append(names, cause.Looks[i].Name)
		}
		return at.fail(quoted(text)+" names no look", "one of "+strings.Join(names, ", ")+", such as "+quoted("marking R2 wrong"), "")
	}
	subjects := l.Subjects(c, d.Parts)
	seen := fit.Look{Name: l.Name}
	if len(subjects) == 0 {
		return at.fail("the "+c.Name+" circuit has no "+l.Name, "another look", "")
	}
	if subjects[0] != "" {
		k := -1
		if len(rest) > 0 {
			k = slices.IndexFunc(subjects, func(s string) bool { return strings.EqualFold(s, rest[0]) })
		}
		if k < 0 {
			return at.fail(quoted(text)+" names no part to look at", "one of "+strings.Join(subjects, ", ")+", such as "+quoted(l.Entered(subjects[0], l.Found)), "")
		}
		seen.Part, rest = subjects[k], rest[1:]
	}
	switch outcome := strings.ToLower(strings.Join(rest, " ")); outcome {
	case l.Found, l.Sound:
		seen.Found = outcome == l.Found
	default:
		return at.fail(quoted(text)+" does not say what was seen", quoted(l.Entered(seen.Part, l.Found))+" or "+quoted(l.Entered(seen.Part, l.Sound)), "")
	}
	// One look at a thing: the later one counts.
	d.Looks = slices.DeleteFunc(d.Looks, func(s fit.Look) bool { return s.Name == seen.Name && s.Part == seen.Part })
	d.Looks = append(d.Looks, seen)
	return nil
}

// lookOf finds the look whose name the words begin with, and what follows it; nil: none.
func lookOf(words []string) (l *cause.Look, rest []string) {
	for i := range cause.Looks {
		name := strings.Fields(cause.Looks[i].Name)
		if len(words) >= len(name) && slices.EqualFunc(words[:len(name)], name, strings.EqualFold) {
			return &cause.Looks[i], words[len(name):]
		}
	}
	return nil, nil
}
