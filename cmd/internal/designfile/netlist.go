package designfile

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/netlist"
	"offbeat/fit/wiring"
)

// netlistEndings are the file names that say a netlist.
var netlistEndings = []string{".cir", ".net", ".sp"}

// isNetlist says whether a design's name is that of a netlist.
func isNetlist(name string) bool {
	return slices.Contains(netlistEndings, strings.ToLower(filepath.Ext(name)))
}

// drawing is a netlist turned into a wiring.
type drawing struct {
	file    string
	deck    *netlist.Deck
	held    map[string]float64 // V, by node
	names   map[string]string  // a node's name here, by its name in lower case
	used    map[string]bool    // nodes that a part or a comparing pin is on
	entries []entry
	notes   []string
}

// readNetlist turns a netlist into the entries of a design and its wiring.
func readNetlist(name string, r io.Reader) (*drawing, *wiring.Wiring, error) {
	deck, err := netlist.Read(name, r)
	if err != nil {
		return nil, nil, err
	}
	d := &drawing{file: name, deck: deck, held: map[string]float64{}, names: map[string]string{}, used: map[string]bool{}, notes: deck.Notes}
	if err := d.sources(); err != nil {
		return nil, nil, err
	}
	device, err := d.device()
	if err != nil {
		return nil, nil, err
	}
	cards, err := d.parts()
	if err != nil {
		return nil, nil, err
	}
	if err := d.others(); err != nil {
		return nil, nil, err
	}
	var held []string
	for n := range d.held {
		if to := d.names[n]; to != wiring.Supply {
			held = append(held, to)
		}
	}
	slices.Sort(held)
	w, err := wiring.Assemble(deck.Title, cards, device, held...)
	var f *wiring.Error
	if errors.As(err, &f) {
		return nil, nil, place{file: name, line: f.Line}.fail(f.What, f.Want, "a netlist's own node names count here")
	}
	return d, w, err
}

// entry is a value of the design that the netlist gives.
func (d *drawing) entry(line int, text, value string, path ...string) {
	at := place{file: d.file, line: line, text: text, offset: max(0, strings.LastIndex(text, value))}
	d.entries = append(d.entries, entry{path: path, value: value, key: at, at: at})
}

// sources finds what constant sources hold: the highest is the supply, one below ground the negative rail.
func (d *drawing) sources() error {
	type source struct {
		card  *netlist.Card
		node  string
		volts float64
	}
	var all []source
	for i := range d.deck.Cards {
		c := &d.deck.Cards[i]
		if c.Letter != 'V' {
			continue
		}
		v, constant := constantSource(c.Value)
		node, other := c.Nodes[0], c.Nodes[1]
		if netlist.Ground(node) {
			node, other, v = other, node, -v
		}
		switch {
		case !constant:
			d.notes = append(d.notes, fmt.Sprintf("netlist: %s is no constant source; it is left out", c.Name))
		case !netlist.Ground(other):
			return c.Fail(d.file, c.Name+" stands between two nodes, neither of them ground", "a source from a node to 0", "")
		default:
			all = append(all, source{c, node, v})
		}
	}
	top := -1
	for i, s := range all {
		if s.volts > 0 && (top < 0 || s.volts > all[top].volts) {
			top = i
		}
	}
	if top < 0 {
		return place{file: d.file}.fail("the netlist has no constant source above ground, so no supply", `a card such as "V1 vcc 0 5"`, "")
	}
	minus := false
	for i, s := range all {
		low := strings.ToLower(s.node)
		d.held[low] = s.volts
		value := strconv.FormatFloat(s.volts, 'g', -1, 64) + " V"
		switch {
		case i == top:
			d.names[low] = wiring.Supply
			d.entry(s.card.Line, s.card.Text, value, "supply")
		case s.volts < 0 && !minus:
			minus = true
			d.names[low] = wiring.Minus
			d.entry(s.card.Line, s.card.Text, value, "minus")
		default:
			d.entry(s.card.Line, s.card.Text, value, "nodes", d.node(s.node))
		}
	}
	return nil
}

// constantSource reads "[DC] v"; constant is false for what changes with time, and for a source without a value.
func constantSource(text string) (v float64, constant bool) {
	f := strings.Fields(text)
	if len(f) > 0 && strings.EqualFold(f[0], "dc") {
		f = f[1:]
	}
	if len(f) == 0 || len(f) > 1 && !strings.EqualFold(f[1], "ac") {
		return 0, false
	}
	return netlist.Number(f[0])
}

// node is a netlist's node by its name here.
func (d *drawing) node(name string) string {
	if netlist.Ground(name) {
		return wiring.Ground
	}
	low := strings.ToLower(name)
	if _, met := d.names[low]; !met {
		d.names[low] = name
		if slices.Contains([]string{wiring.Ground, wiring.Supply, wiring.Minus}, low) {
			d.names[low] = name + "_net" // a node of that name that no source holds
		}
	}
	return d.names[low]
}

// orders lists the pins of an X card by how many nodes it has, where no subcircuit's head tells them.
var orders = map[int]struct {
	kind string
	pins []string
}{
	2: {wiring.Inverter, []string{wiring.PinIn, wiring.PinOutput}},
	3: {wiring.Comparator, []string{wiring.PinPlus, wiring.PinMinus, wiring.PinOutput}},
	5: {wiring.Comparator, []string{wiring.PinPlus, wiring.PinMinus, "", "", wiring.PinOutput}},
	8: {wiring.Timer, []string{wiring.PinGround, wiring.PinTrigger, wiring.PinOutput, wiring.PinReset, wiring.PinControl, wiring.PinThreshold, wiring.PinDischarge, wiring.PinSupply}},
}

// pinWords lists what the pins are called in the heads of subcircuits, by the pin; a rail has no name of its own here.
var pinWords = []struct {
	kind  string
	words map[string][]string
}{
	{wiring.Timer, map[string][]string{
		wiring.PinGround: {"gnd", "ground", "gnd0", "vss", "0"}, wiring.PinTrigger: {"trig", "trigger", "tri", "trg", "tr"},
		wiring.PinOutput: {"out", "output", "q"}, wiring.PinReset: {"reset", "rst", "res", "mr"},
		wiring.PinControl: {"ctrl", "control", "cont", "con", "cv", "fm", "vctrl", "ctl"}, wiring.PinThreshold: {"thr", "thres", "thresh", "threshold", "threas", "ths"},
		wiring.PinDischarge: {"dis", "disc", "disch", "discharge", "dch"}, wiring.PinSupply: {"vcc", "vdd", "supply", "vs", "v+"},
	}},
	{wiring.Comparator, map[string][]string{
		wiring.PinPlus: {"inp", "in+", "plus", "p", "noninv", "non_inv", "vp", "+", "inplus"}, wiring.PinMinus: {"inn", "in-", "minus", "n", "inv", "vn", "-", "inminus"},
		wiring.PinOutput: {"out", "output", "vout", "o"}, "": {"vcc", "vdd", "v+", "vee", "vss", "v-", "gnd", "0"},
	}},
	{wiring.Inverter, map[string][]string{
		wiring.PinIn: {"in", "a", "input", "i"}, wiring.PinOutput: {"out", "y", "output", "q", "o"}, "": {"vcc", "vdd", "gnd", "vss", "0"},
	}},
}

// headed finds the kind and the pins that a subcircuit's own node names tell; false where they do not.
func headed(b *netlist.Block) (kind string, pins []string, ok bool) {
	for _, row := range pinWords {
		pins, seen := []string(nil), map[string]bool{}
		for _, n := range b.Nodes {
			for pin, words := range row.words {
				if slices.Contains(words, strings.ToLower(n)) && (pin == "" || !seen[pin]) {
					pins = append(pins, pin)
					seen[pin] = true
					break
				}
			}
		}
		needed := 0
		for pin := range row.words {
			if pin != "" && pin != wiring.PinGround && seen[pin] {
				needed++
			}
		}
		least := len(row.words) - 1 // without the ground that is node 0 inside, or without the rails
		if len(pins) == len(b.Nodes) && needed >= least {
			return row.kind, pins, true
		}
	}
	return "", nil, false
}

// device finds the one device and its pins.
func (d *drawing) device() (wiring.Device, error) {
	var found *netlist.Card
	for i := range d.deck.Cards {
		c := &d.deck.Cards[i]
		if c.Letter != 'X' {
			continue
		}
		if found != nil {
			return wiring.Device{}, c.Fail(d.file, "a second device, "+c.Name+" beside "+found.Name, "one X card", "cut the netlist down to one oscillator")
		}
		found = c
	}
	if found == nil {
		return wiring.Device{}, place{file: d.file}.fail("the netlist has no device", "one X card, such as \"XU1 0 cap out vcc ctl cap dis vcc timer\"", "")
	}
	kind, pins, err := d.pinsOf(found)
	if err != nil {
		return wiring.Device{}, err
	}
	dev := wiring.Device{Name: found.Name, Kind: kind, Line: found.Line, Column: 1}
	if len(dev.Name) > 1 && (dev.Name[0] == 'X' || dev.Name[0] == 'x') && (dev.Name[1] == 'U' || dev.Name[1] == 'u') {
		dev.Name = dev.Name[1:]
	}
	for i, pin := range pins {
		switch node := d.node(found.Nodes[i]); {
		case pin == "":
		case d.open(found.Nodes[i]):
		default:
			dev.Pins = append(dev.Pins, wiring.Pin{Name: pin, Node: node})
			if pin != wiring.PinOutput && pin != wiring.PinReset {
				d.used[strings.ToLower(found.Nodes[i])] = true
			}
		}
	}
	return dev, nil
}

// open says whether a node is on one place of the netlist only, so that the pin there is free.
func (d *drawing) open(node string) bool {
	n := 0
	for _, c := range d.deck.Cards {
		for _, o := range c.Nodes {
			if strings.EqualFold(o, node) {
				n++
			}
		}
	}
	_, held := d.held[strings.ToLower(node)]
	return n < 2 && !held && !netlist.Ground(node)
}

// pinsOf finds the pins of an X card: by the head of its subcircuit, else by how many there are.
func (d *drawing) pinsOf(c *netlist.Card) (kind string, pins []string, err error) {
	for i := range d.deck.Blocks {
		b := &d.deck.Blocks[i]
		if !strings.EqualFold(b.Name, c.Value) {
			continue
		}
		kind, pins, ok := headed(b)
		if !ok {
			return "", nil, place{file: d.file, line: b.Line}.fail("the subcircuit "+b.Name+" does not say by its nodes' names which pins they are", "names such as gnd trig out reset ctrl thr dis vcc", "a device's name never fixes the order of its pins")
		}
		if len(pins) != len(c.Nodes) {
			return "", nil, c.Fail(d.file, fmt.Sprintf("%s has %d nodes, its subcircuit %d", c.Name, len(c.Nodes), len(pins)), "as many", "")
		}
		return kind, pins, nil
	}
	o, ok := orders[len(c.Nodes)]
	if !ok {
		return "", nil, c.Fail(d.file, fmt.Sprintf("%s has %d nodes and the netlist does not say which pins they are", c.Name, len(c.Nodes)), "a line .subckt "+c.Value+" with the names of the pins, or eight nodes for a timer, two for an inverter, three or five for a comparator", "a device's name never fixes the order of its pins")
	}
	var said []string
	for _, pin := range o.pins {
		if pin == "" {
			pin = "rail"
		}
		said = append(said, pin)
	}
	d.notes = append(d.notes, fmt.Sprintf("netlist: %s has %d nodes, taken as a %s with the pins %s (a guess)", c.Name, len(c.Nodes), o.kind, strings.Join(said, ", ")))
	return o.kind, o.pins, nil
}

// leastResistor is a resistance in ohm below which a resistor is taken for a slip: 1M is a thousandth of an ohm in a netlist.
const leastResistor = 0.1

// leastCapacitor is a capacitance in farad below which a capacitor is taken for a slip: 1F is a femtofarad in a netlist.
const leastCapacitor = 1e-13

// parts turns resistors, capacitors and diodes into cards and entries.
func (d *drawing) parts() ([]wiring.Card, error) {
	kinds := map[byte]wiring.Kind{'R': wiring.Resistor, 'C': wiring.Capacitor, 'D': wiring.Diode}
	var out []wiring.Card
	for i := range d.deck.Cards {
		c := &d.deck.Cards[i]
		kind, ok := kinds[c.Letter]
		if !ok {
			continue
		}
		card := wiring.Card{Name: c.Name, Kind: kind, Line: c.Line, Column: 1}
		for _, n := range c.Nodes {
			card.Nodes = append(card.Nodes, d.node(n))
			d.used[strings.ToLower(n)] = true
		}
		out = append(out, card)
		if kind == wiring.Diode {
			continue
		}
		v, ok := netlist.Number(c.Value)
		switch {
		case !ok || v <= 0:
			do := ""
			if strings.ContainsAny(c.Value, "{'") {
				do = "an expression is not worked out, but for the name of a .param with a number"
			}
			return nil, c.Fail(d.file, fmt.Sprintf("%s has no value (%q)", c.Name, c.Value), "a number such as 4.7k or 100n", do)
		case kind == wiring.Resistor && v < leastResistor:
			return nil, c.Fail(d.file, fmt.Sprintf("%s is %s, that is %s Ω: in a netlist M is milli", c.Name, c.Value, strconv.FormatFloat(v, 'g', 3, 64)), "a resistance of 0.1 Ω or more", "write MEG for a million")
		case kind == wiring.Capacitor && v < leastCapacitor:
			return nil, c.Fail(d.file, fmt.Sprintf("%s is %s, that is %s F: in a netlist F is femto", c.Name, c.Value, strconv.FormatFloat(v, 'g', 3, 64)), "a capacitance of 0.1 pF or more", "write 1 for a farad, 100n for a tenth of a microfarad")
		}
		d.entry(c.Line, c.Text, strconv.FormatFloat(v, 'g', -1, 64), "parts", c.Name)
	}
	return out, nil
}

// others refuses an element of another kind that hangs on the timing network, and says which others are left out.
func (d *drawing) others() error {
	for i := range d.deck.Cards {
		c := &d.deck.Cards[i]
		if strings.IndexByte("RCDVX", c.Letter) >= 0 {
			continue
		}
		for _, n := range c.Nodes {
			low := strings.ToLower(n)
			if _, held := d.held[low]; d.used[low] && !held && !netlist.Ground(n) {
				return &acquire.Error{File: d.file, Line: c.Line, Column: 1, What: fmt.Sprintf("%s is on the node %s, which sets the times, and is of a kind that is not modelled", c.Name, n), Expect: "resistors, capacitors and diodes there", Err: acquire.ErrSyntax}
			}
		}
		d.notes = append(d.notes, fmt.Sprintf("netlist: %s left out; it hangs on nothing that sets the times", c.Name))
	}
	return nil
}
