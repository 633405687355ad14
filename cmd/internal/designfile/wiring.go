package designfile

import (
	"errors"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// ofCircuit is one of the named circuits.
func ofCircuit(c *circuit.Circuit) *subject {
	s := &subject{name: c.Name + " circuit", parts: c.Parts, latch: c.Latch, onePulse: c.OnePulse}
	for _, f := range []string{c.Default, fit.Bipolar, fit.CMOS, fit.OpAmp, fit.Ideal} {
		if _, err := c.Priors(f); err == nil && !slices.Contains(s.families, f) {
			s.families = append(s.families, f)
		}
	}
	return s
}

// families are those of each device, the default first.
var families = map[string][]string{
	wiring.Timer:      {fit.Bipolar, fit.CMOS, fit.Ideal},
	wiring.Inverter:   {fit.CMOS, fit.Ideal},
	wiring.Comparator: {fit.CMOS, fit.OpAmp, fit.Ideal},
}

// ofWiring is a board as it is wired.
func ofWiring(w *wiring.Wiring) *subject {
	s := &subject{name: "wiring", latch: w.Runs == wiring.Bistable, onePulse: w.Runs == wiring.Monostable, families: families[w.Device.Kind], wired: true}
	for _, c := range w.Cards {
		switch c.Kind {
		case wiring.Diode:
			s.diodes = append(s.diodes, c.Name)
		case wiring.Capacitor:
			s.parts = append(s.parts, circuit.Spec{Name: c.Name, Kind: fit.Capacitor})
		default:
			s.parts = append(s.parts, circuit.Spec{Name: c.Name, Kind: fit.Resistor})
		}
	}
	return s
}

// wire reads the board as it is wired: the text of the key, and the nodes that other keys hold.
func (b *builder) wire(e *entry) error {
	if e.kind != text {
		return e.at.fail("wiring is no text", `cards between three quotes on each side, a line each, such as wiring = """`, "offbeat help wiring shows some")
	}
	var held []string
	for i := range b.entries {
		switch o := &b.entries[i]; {
		case o.name() == "minus":
			held = append(held, wiring.Minus)
		case table(o) == "nodes" && o.kind != header && len(o.path) == 2:
			held = append(held, o.path[1])
		}
	}
	w, err := wiring.Parse(e.value, held...)
	if err != nil {
		return e.wiringFault(err)
	}
	w.Title = b.design.Title
	b.design.Wiring, b.subject = w, ofWiring(w)
	return nil
}

// wiringFault gives a fault of the wiring its place in the file.
func (e *entry) wiringFault(err error) error {
	var f *wiring.Error
	if !errors.As(err, &f) {
		return e.at.fail(err.Error(), "", "")
	}
	return e.card(f.Line, f.Column).fail(f.What, f.Want, "offbeat help wiring says how a wiring is written")
}

// card is the place of a line and column of the wiring; of the whole where the line is 0.
func (e *entry) card(line, column int) place {
	at := e.at
	lines := strings.Split(e.value, "\n")
	if line < 1 || line > len(lines) {
		return at
	}
	text := lines[line-1]
	at.text, at.offset = text, len(string([]rune(text)[:max(0, min(column-1, len([]rune(text))))]))
	if e.first > 0 {
		at.line = e.first + line - 1
	}
	return at
}

// onCard is a part's value where it stands on its card, as an entry of its own.
func (b *builder) onCard(c *wiring.Card) *entry {
	e := b.entryOf("wiring")
	if e == nil || c.Value == "" {
		return nil
	}
	at := e.card(c.Line, c.ValueColumn)
	return &entry{path: []string{"parts", c.Name}, value: c.Value, key: e.card(c.Line, c.Column), at: at, plain: true}
}

// node reads the voltage at which a source holds a node: against ground, or as a ratio to the supply.
func (b *builder) node(e *entry) error {
	canonical := e.path[1]
	if w := b.design.Wiring; w != nil {
		n, ok := w.Node(canonical)
		if !ok {
			return e.key.fail("nothing is tied to the node "+quoted(canonical), "a node of the wiring: "+strings.Join(w.Nodes, ", "), "")
		}
		canonical = n
	}
	n := fit.Node{Ratio: true}
	var err error
	if n.Reading, err = reading(e, canonical, quantity.Number, false); err != nil {
		n.Ratio = false
		if n.Reading, err = signed(e, canonical, quantity.Volt, false); err != nil {
			return err
		}
	}
	b.design.Nodes = append(b.design.Nodes, n)
	return nil
}

// diode reads what the design says of a diode: its kind, or its drop.
func (b *builder) diode(name string, got map[string]*entry) error {
	d := fit.Diode{Name: name}
	kinds := []string{fit.Silicon, fit.Schottky, fit.LED, fit.IdealDiode}
	var err error
	if e := got["value"]; e != nil {
		if slices.Contains(kinds, e.value) {
			d.Kind = e.value
		} else if d.Drop, err = reading(e, name, quantity.Volt, false); err != nil {
			return e.at.fail(name+": "+quoted(e.value)+" is neither a kind of diode nor a drop", "one of "+strings.Join(kinds, ", ")+`, or a drop such as "0.62 V ± 5 %"`, "")
		}
	}
	if e := got["kind"]; e != nil {
		if d.Kind, err = e.word(kinds); err != nil {
			return err
		}
	}
	if e := got["drop"]; e != nil {
		if d.Drop, err = reading(e, name, quantity.Volt, false); err != nil {
			return err
		}
	}
	if d.Kind == "" && d.Drop.Value == 0 {
		return nil
	}
	b.design.Diodes = append(b.design.Diodes, d)
	return nil
}

// output reads a level of the output against ground.
func output(e *entry) (*fit.Reading, error) {
	r, err := signed(e, e.path[1], quantity.Volt, false)
	return &r, err
}

// track turns the entries of a potentiometer of three nodes into its whole track, and where its wiper stands from the
// first end.
func (b *builder) track(p *fit.Part, e *entry) error {
	if e == nil || e.value == "unknown" {
		b.note("%s: wiper position unknown, so it may stand anywhere on its track", p.Name)
		return nil
	}
	q, err := e.quantity(quantity.Number)
	if err != nil {
		return err
	}
	from, to := q.Limits()
	if to > 1 {
		return e.at.fail(e.name()+" reaches beyond the end of the track", "a position up to 100 %", "")
	}
	p.Position = fit.Reading{Name: p.Name, Value: q.Value, Half: (to - from) / 2}
	return nil
}

// compiled is the design's circuit; a fault of its wiring has its place in the file.
func (b *builder) compiled() (*circuit.Circuit, error) {
	c, err := circuit.Of(b.design)
	var f *wiring.Error
	if e := b.entryOf("wiring"); e != nil && errors.As(err, &f) {
		return nil, e.wiringFault(err)
	}
	if err != nil {
		return nil, b.top.fail(err.Error(), "", "")
	}
	return c, nil
}

// runs compiles the wiring with its values, so that what no board is has its error before any capture is read.
func (b *builder) runs() error {
	if b.design.Wiring == nil {
		return nil
	}
	_, err := b.compiled()
	return err
}
