package wiring

import (
	"slices"
	"strings"
	"unicode"
)

// word is one word of a line and its column.
type word struct {
	text   string
	column int
}

// words splits a line at white space and around "=", up to a comment.
func words(line string) []word {
	var out []word
	column, open := 0, false
	for _, r := range line {
		column++
		switch {
		case r == '#':
			return out
		case unicode.IsSpace(r):
			open = false
		case r == '=':
			out = append(out, word{"=", column})
			open = false
		case open:
			out[len(out)-1].text += string(r)
		default:
			out = append(out, word{string(r), column})
			open = true
		}
	}
	return out
}

// Parse reads a wiring in card notation. held are the nodes that the design holds besides ground and supply: "minus"
// where it states that rail, and those of its table of nodes. The error is an *Error.
func Parse(text string, held ...string) (*Wiring, error) {
	w := &Wiring{}
	found := false
	for i, line := range strings.Split(text, "\n") {
		all := words(line)
		if len(all) == 0 {
			continue
		}
		if begins(all[0].text, "U") {
			if found {
				return nil, &Error{i + 1, all[0].column, "a second device, " + all[0].text + " beside " + w.Device.Name, "one device"}
			}
			found = true
			if err := w.readDevice(i+1, all); err != nil {
				return nil, err
			}
			continue
		}
		c, err := readCard(i+1, all)
		if err != nil {
			return nil, err
		}
		w.Cards = append(w.Cards, c)
	}
	if !found {
		return nil, &Error{What: "the wiring has no device", Want: "one card such as " + `"U1 timer trigger=cap threshold=cap"`}
	}
	return w, w.finish(held)
}

// Assemble makes a wiring of cards and a device that were read from another notation; pins that the device does not
// name are nodes of their own names. The error is an *Error.
func Assemble(title string, cards []Card, device Device, held ...string) (*Wiring, error) {
	w := &Wiring{Title: title, Cards: slices.Clone(cards), Device: device}
	for i := range w.Cards {
		w.Cards[i].Nodes = slices.Clone(w.Cards[i].Nodes)
	}
	w.Device.Pins = nil
	k := deviceOf(device.Kind)
	if k < 0 {
		return nil, &Error{device.Line, device.Column, "unknown device " + quoted(device.Kind), deviceKinds()}
	}
	w.Device.Kind = devices[k].kind
	for _, name := range devices[k].pins {
		pin := Pin{Name: name, Node: name}
		if at := slices.IndexFunc(device.Pins, func(p Pin) bool { return p.Name == name }); at >= 0 {
			pin.Node, pin.Named = device.Pins[at].Node, true
		}
		w.Device.Pins = append(w.Device.Pins, pin)
	}
	return w, w.finish(held)
}

// deviceOf is the row of a kind of device, without regard to case; -1: there is none.
func deviceOf(kind string) int {
	return slices.IndexFunc(devices, func(row deviceRow) bool { return strings.EqualFold(row.kind, kind) })
}

// begins says whether a name begins with the letters, without regard to case.
func begins(name, letters string) bool {
	return len(name) >= len(letters) && strings.EqualFold(name[:len(letters)], letters)
}

// isName says whether a word is a letter and then letters, digits or "_".
func isName(s string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return false
		}
	}
	return s != ""
}

// readCard reads "NAME node node … [value]".
func readCard(line int, all []word) (Card, error) {
	name := all[0]
	c := Card{Name: name.text, Line: line, Column: name.column}
	k := slices.IndexFunc(kinds, func(row kindRow) bool { return begins(name.text, row.prefix) })
	if k < 0 || !isName(name.text) {
		return c, &Error{line, name.column, quoted(name.text) + " begins no card", "a name such as R1, RV1, C1, D1 or U1: a letter that says what it is, then letters, digits or _"}
	}
	row := kinds[k]
	c.Kind = row.kind
	rest := all[1:]
	for len(rest) > 0 && !isValue(rest[0].text) && !(row.kind == Diode && len(c.Nodes) == row.most) {
		if rest[0].text == "=" {
			return c, &Error{line, rest[0].column, c.Name + " is a " + row.name + " and has no pins to name", row.nodes + ", then its value if it stands here"}
		}
		if len(c.Nodes) == row.most {
			return c, &Error{line, rest[0].column, c.Name + " has more than " + row.nodes, row.nodes + "; a value begins with a digit"}
		}
		n, err := readNode(line, rest[0])
		if err != nil {
			return c, err
		}
		c.Nodes, c.Ends, rest = append(c.Nodes, n), append(c.Ends, rest[0].column), rest[1:]
	}
	if len(c.Nodes) < row.least {
		return c, &Error{line, after(all, rest), c.Name + " is a " + row.name + " and needs " + row.nodes, c.Name + " " + strings.Repeat("NODE ", row.least) + "first"}
	}
	if len(rest) > 0 {
		c.ValueColumn, c.Value = rest[0].column, rest[0].text
		for _, w := range rest[1:] {
			c.Value += " " + w.text
		}
	}
	return c, nil
}

// after is the column where what is missing would stand.
func after(all, rest []word) int {
	if len(rest) > 0 {
		return rest[0].column
	}
	last := all[len(all)-1]
	return last.column + len([]rune(last.text))
}

// isValue says whether a word begins a value: with a digit, but for the node 0.
func isValue(s string) bool { return s[0] >= '0' && s[0] <= '9' && s != "0" }

// readNode reads a node's name.
func readNode(line int, w word) (string, error) {
	if w.text == "0" {
		return Ground, nil
	}
	if !isName(w.text) {
		return "", &Error{line, w.column, quoted(w.text) + " is no name of a node", "a letter and then letters, digits or _ (0 is ground)"}
	}
	return w.text, nil
}

// readDevice reads "NAME KIND pin=node …".
func (w *Wiring) readDevice(line int, all []word) error {
	d := &w.Device
	*d = Device{Name: all[0].text, Line: line, Column: all[0].column}
	if !isName(d.Name) {
		return &Error{line, d.Column, quoted(d.Name) + " is no name", "a letter and then letters, digits or _"}
	}
	if len(all) < 2 {
		return &Error{line, after(all, nil), d.Name + " has no kind", deviceKinds()}
	}
	k := deviceOf(all[1].text)
	if k < 0 {
		return &Error{line, all[1].column, "unknown device " + quoted(all[1].text), deviceKinds()}
	}
	row := devices[k]
	d.Kind = row.kind
	for _, name := range row.pins {
		d.Pins = append(d.Pins, Pin{Name: name, Node: name})
	}
	pins := "one of the pins " + strings.Join(row.pins, ", ")
	for rest := all[2:]; len(rest) > 0; rest = rest[3:] {
		at := slices.IndexFunc(d.Pins, func(p Pin) bool { return strings.EqualFold(p.Name, rest[0].text) })
		switch {
		case rest[0].text == "=":
			return &Error{line, rest[0].column, "a pin is missing ahead of =", "pin=node"}
		case len(rest) < 3 || rest[1].text != "=" || rest[2].text == "=":
			want := "pin=node, such as " + row.pins[1] + "=cap"
			if at < 0 {
				want += "; the pins are " + strings.Join(row.pins, ", ")
			}
			return &Error{line, rest[0].column, quoted(rest[0].text) + " says no pin and node", want}
		case at < 0:
			return &Error{line, rest[0].column, "the " + row.kind + " has no pin " + quoted(rest[0].text), pins}
		case d.Pins[at].Named:
			return &Error{line, rest[0].column, "the pin " + d.Pins[at].Name + " stands twice", "each pin once"}
		}
		n, err := readNode(line, rest[2])
		if err != nil {
			return err
		}
		d.Pins[at].Node, d.Pins[at].Named = n, true
	}
	for _, name := range row.required {
		at := slices.IndexFunc(d.Pins, func(p Pin) bool { return p.Name == name })
		if !d.Pins[at].Named {
			return &Error{line, after(all, nil), "the " + row.kind + " " + d.Name + " does not say where its " + name + " input is", strings.Join(row.required, "=NODE ") + "=NODE"}
		}
	}
	return nil
}

func deviceKinds() string {
	var names []string
	for _, row := range devices {
		names = append(names, row.kind)
	}
	return "one of " + strings.Join(names, ", ")
}
