package designfile

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/netlist"
	"offbeat/fit/wiring"
)

// drawing is a netlist turned into a wiring.
type drawing struct {
	file    string
	deck    *netlist.Deck
	held    map[string]float64 // V, by node
	driven  []*netlist.Card    // sources from a node to ground that are not constant
	names   map[string]string  // a node's name here, by its name in lower case
	taken   map[string]bool    // names that no net can have here: of parts, and of pins that are elsewhere
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
	draw := func(o order) (*drawing, *wiring.Wiring, error) {
		d := &drawing{file: name, deck: deck, held: map[string]float64{}, names: map[string]string{}, taken: map[string]bool{}, used: map[string]bool{},
			notes: slices.Clone(deck.Notes)}
		w, err := d.wire(o)
		return d, w, err
	}
	d := &drawing{file: name, deck: deck}
	x, err := d.device()
	if err != nil {
		return nil, nil, err
	}
	told, ok, err := d.told(x)
	if ok || err != nil {
		if err != nil {
			return nil, nil, err
		}
		return draw(told)
	}
	// Nothing says which pins they are: the usual order if the netlist is a board in it, else the only other one in which it is.
	var first error
	var w *wiring.Wiring
	fits := 0
	for _, o := range orders {
		if len(o.pins) != len(x.Nodes) {
			continue
		}
		drawn, wired, err := draw(o)
		if err == nil {
			fits++
			d, w = drawn, wired
			d.notes = append(d.notes, fmt.Sprintf("netlist: %s has %d nodes, taken as a %s with the pins %s (a guess)", x.Name, len(x.Nodes), o.kind, strings.Join(o.said(), ", ")))
		}
		if first == nil {
			if first = err; err == nil {
				break
			}
		}
	}
	if fits == 1 {
		return d, w, nil
	}
	var f *Error
	if fits == 0 && errors.As(first, &f) && f.Fault.Do == ownNames {
		f.Fault.Do += "; the order of the pins is a guess, which a line .subckt with their names settles"
	}
	if fits == 0 && first != nil {
		return nil, nil, first
	}
	what := fmt.Sprintf("%s has %d nodes and the netlist does not say which pins they are", x.Name, len(x.Nodes))
	return nil, nil, x.Fail(name, what, "a line .subckt "+x.Value+" with the names of the pins, such as gnd trig out reset ctrl thr dis vcc", "a device's name never fixes the order of its pins")
}

const ownNames = "a netlist's own node names count here"

// wire makes the wiring with the device's pins in an order.
func (d *drawing) wire(o order) (*wiring.Wiring, error) {
	x, err := d.device()
	if err != nil {
		return nil, err
	}
	if err := d.sources(); err != nil {
		return nil, err
	}
	device := d.placed(x, o)
	cards, err := d.parts()
	if err != nil {
		return nil, err
	}
	if err := d.others(); err != nil {
		return nil, err
	}
	var held []string
	for n := range d.held {
		if to := d.names[n]; to != wiring.Supply {
			held = append(held, to)
		}
	}
	slices.Sort(held)
	w, err := wiring.Assemble(d.deck.Title, cards, device, held...)
	var f *wiring.Error
	if err == nil {
		err = d.undriven(w)
	}
	if !errors.As(err, &f) {
		return w, err
	}
	at := d.whole()
	for _, c := range d.deck.Cards {
		if c.Line == f.Line {
			at = place{file: d.file, line: c.Line, text: c.Text, offset: max(0, f.Column-1)}
		}
	}
	return nil, at.fail(f.What, f.Want, ownNames)
}

// undriven refuses a source that is not constant and drives what sets the times; the trigger of a single pulse does not.
func (d *drawing) undriven(w *wiring.Wiring) error {
	for _, c := range d.driven {
		on := func(n string) bool {
			return slices.ContainsFunc(c.Nodes, func(m string) bool { return !netlist.Ground(m) && d.names[strings.ToLower(m)] == n })
		}
		sets := slices.ContainsFunc(w.Cards, func(k wiring.Card) bool { return slices.ContainsFunc(k.Nodes, on) && !w.Idle(&k) }) ||
			slices.ContainsFunc(w.Device.Pins, func(p wiring.Pin) bool { return on(p.Node) && p.Name != wiring.PinTrigger })
		if sets {
			return c.Fail(d.file, c.Name+" is no constant source, and its node sets the times", `a constant voltage there, such as "V1 vcc 0 5"`, "")
		}
	}
	return nil
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
			if netlist.Ground(other) && !netlist.Ground(node) {
				d.driven = append(d.driven, c)
			}
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
		at, what := d.whole(), "the netlist has no constant source above ground, so no supply"
		for _, c := range d.deck.Cards {
			if c.Letter == 'V' {
				at, what = place{file: d.file, line: c.Line, text: c.Text}, fmt.Sprintf("%s (%q) holds no constant voltage above ground, so there is no supply", c.Name, c.Value)
			}
		}
		return at.fail(what, `a card such as "V1 vcc 0 5"`, "")
	}
	for _, c := range d.driven { // held for the wiring; that no part there has a say is seen to once it is wired
		node := c.Nodes[0]
		if netlist.Ground(node) {
			node = c.Nodes[1]
		}
		if slices.ContainsFunc(d.deck.Cards, func(k netlist.Card) bool {
			return strings.IndexByte("RCD", k.Letter) >= 0 && slices.ContainsFunc(k.Nodes, func(n string) bool { return strings.EqualFold(n, node) })
		}) {
			all = append(all, source{c, node, all[top].volts})
		}
	}
	minus := false
	for i, s := range all {
		low := strings.ToLower(s.node)
		if s.volts == 0 { // an ammeter
			d.names[low] = wiring.Ground
			continue
		}
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

// whole is the place of a fault of the whole netlist: its device, or its last card.
func (d *drawing) whole() place {
	for _, c := range d.deck.Cards {
		if c.Letter == 'X' {
			return place{file: d.file, line: c.Line, text: c.Text}
		}
	}
	c := d.deck.Cards[len(d.deck.Cards)-1]
	return place{file: d.file, line: c.Line, text: c.Text}
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
		if d.taken[low] || slices.Contains([]string{wiring.Ground, wiring.Supply, wiring.Minus}, low) {
			d.names[low] = name + "_net" // a node of that name that no source holds, and no such pin
		}
	}
	return d.names[low]
}

// order is a kind of device and its pins in the order of an X card's nodes; a rail has no name.
type order struct {
	kind string
	pins []string
}

// said are the pins' names for a reader.
func (o order) said() []string {
	var out []string
	for _, pin := range o.pins {
		out = append(out, cmp.Or(pin, "rail"))
	}
	return out
}

// orders lists those in use where no subcircuit's head tells them, the usual first: of a timer that of its package's pins 1 to 8.
var orders = []order{
	{wiring.Inverter, []string{wiring.PinIn, wiring.PinOutput}},
	{wiring.Comparator, []string{wiring.PinPlus, wiring.PinMinus, wiring.PinOutput}},
	{wiring.Comparator, []string{wiring.PinPlus, wiring.PinMinus, "", "", wiring.PinOutput}},
	timerOrder("ground trigger output reset control threshold discharge supply"),
	timerOrder("supply trigger output reset control threshold discharge ground"),
	timerOrder("threshold control trigger reset output discharge supply ground"),
	timerOrder("trigger threshold reset control output discharge supply ground"),
	timerOrder("supply ground threshold reset control discharge output trigger"),
	timerOrder("supply ground reset discharge threshold trigger control output"),
	timerOrder("trigger output reset control threshold discharge supply"),
}

func timerOrder(pins string) order { return order{wiring.Timer, strings.Fields(pins)} }

// pinRow is a kind of device, and the words by which its pins go.
type pinRow struct {
	kind  string
	words map[string][]string
}

// pinWords lists what the pins are called in the heads of subcircuits, by the pin; a rail has no name of its own here.
var pinWords = []pinRow{
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

// headed finds the kind and the pins that the names of a subcircuit's nodes tell, its own or those in the remark above it;
// false where they do not.
func headed(b *netlist.Block) (order, bool) {
	if o, ok := named(b.Nodes); ok {
		return o, true
	}
	for _, row := range pinWords {
		var known []string
		for _, word := range strings.FieldsFunc(b.Remark, func(r rune) bool { return strings.ContainsRune(" \t,;:|=()", r) }) {
			if _, ok := row.pin(word); ok {
				known = append(known, word)
			}
		}
		if o, ok := named(known); ok && o.kind == row.kind && len(known) == len(b.Nodes) {
			return o, true
		}
	}
	return order{}, false
}

// pin is the pin that a word names.
func (p *pinRow) pin(word string) (string, bool) {
	for pin, words := range p.words {
		if slices.Contains(words, strings.ToLower(word)) {
			return pin, true
		}
	}
	return "", false
}

// named is the device whose pins the names are, each once; but for rails and a ground that is node 0 inside, all of them.
func named(names []string) (order, bool) {
	for _, row := range pinWords {
		var pins []string
		seen := map[string]bool{}
		for _, n := range names {
			if pin, ok := row.pin(n); ok && (pin == "" || !seen[pin]) {
				pins, seen[pin] = append(pins, pin), true
			}
		}
		delete(seen, "")
		delete(seen, wiring.PinGround)
		if len(pins) == len(names) && len(seen) >= len(row.words)-1 {
			return order{row.kind, pins}, true
		}
	}
	return order{}, false
}

// device finds the one device.
func (d *drawing) device() (*netlist.Card, error) {
	var found *netlist.Card
	for i := range d.deck.Cards {
		c := &d.deck.Cards[i]
		if c.Letter != 'X' {
			continue
		}
		if found != nil {
			return nil, c.Fail(d.file, "a second device, "+c.Name+" beside "+found.Name, "one X card", "cut the netlist down to one oscillator")
		}
		found = c
	}
	if found != nil {
		return found, nil
	}
	at, what := d.whole(), "the netlist has no device"
	for _, c := range d.deck.Cards {
		if c.Letter == 'U' { // as an editor writes a symbol without a model
			at, what = place{file: d.file, line: c.Line, text: c.Text}, what+": "+c.Name+" has neither model nor nodes"
		}
	}
	return nil, at.fail(what, "one X card, such as \"XU1 0 cap out vcc ctl cap dis vcc timer\"", "")
}

// placed is the device with its pins on the nodes of its card. A pin whose node is on nothing else is left out; what else is
// called like a part, or like a pin that is elsewhere, gets a name of its own.
func (d *drawing) placed(c *netlist.Card, o order) wiring.Device {
	dev := wiring.Device{Name: c.Name, Kind: o.kind, Line: c.Line, Column: 1 + strings.Index(c.Text, c.Name)}
	if rest := strings.TrimLeft(dev.Name[1:], "§_"); rest != "" && (rest[0] == 'U' || rest[0] == 'u') {
		dev.Name = rest
	}
	d.taken[strings.ToLower(dev.Name)] = true
	for _, k := range d.deck.Cards {
		d.taken[strings.ToLower(k.Name)] = strings.IndexByte("RCD", k.Letter) >= 0
	}
	for i, pin := range o.pins {
		d.taken[pin] = pin != "" && !strings.EqualFold(c.Nodes[i], pin)
	}
	for i, pin := range o.pins {
		if pin == "" {
			continue
		}
		if pin != wiring.PinOutput && pin != wiring.PinReset {
			d.used[strings.ToLower(c.Nodes[i])] = true
		}
		if !d.open(c.Nodes[i]) {
			dev.Pins = append(dev.Pins, wiring.Pin{Name: pin, Node: d.node(c.Nodes[i])})
		}
	}
	return dev
}

// open says whether a node is on one place of the netlist only, so that the pin there is free.
func (d *drawing) open(node string) bool {
	_, held := d.held[strings.ToLower(node)]
	return d.places(node) < 2 && !held && !netlist.Ground(node)
}

// places counts the ends of cards that are on a node.
func (d *drawing) places(node string) (n int) {
	for _, c := range d.deck.Cards {
		for _, o := range c.Nodes {
			if strings.EqualFold(o, node) {
				n++
			}
		}
	}
	return n
}

// told finds the pins of an X card by the head of its subcircuit; false where the netlist has none that tells.
func (d *drawing) told(c *netlist.Card) (order, bool, error) {
	for i := range d.deck.Blocks {
		b := &d.deck.Blocks[i]
		if !strings.EqualFold(b.Name, c.Value) {
			continue
		}
		if len(b.Nodes) != len(c.Nodes) {
			return order{}, false, c.Fail(d.file, fmt.Sprintf("%s has %d nodes, its subcircuit %d", c.Name, len(c.Nodes), len(b.Nodes)), "as many", "")
		}
		o, ok := headed(b)
		return o, ok, nil
	}
	return order{}, false, nil
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
		if strings.EqualFold(c.Value, "DNP") && kind != wiring.Diode {
			d.notes = append(d.notes, fmt.Sprintf("netlist: %s is not fitted (%s); it is left out", c.Name, c.Value))
			continue
		}
		card := wiring.Card{Name: c.Name, Kind: kind, Line: c.Line, Column: 1 + strings.Index(c.Text, c.Name)}
		at := card.Column
		for _, n := range c.Nodes {
			at += max(0, strings.Index(c.Text[at:], n))
			card.Nodes, card.Ends = append(card.Nodes, d.node(n)), append(card.Ends, at+1)
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
			switch {
			case strings.ContainsAny(c.Value, "{'"):
				do = "an expression is not worked out, but for the name of a .param with a number"
			case c.Value != "" && c.Value[0] >= '0' && c.Value[0] <= '9':
				do = "a letter is no decimal point there: some readers take 4k7 for 4k"
			}
			return nil, c.Fail(d.file, fmt.Sprintf("%s has no value (%q)", c.Name, c.Value), "a number such as 4.7k or 100n", do)
		case kind == wiring.Resistor && v < leastResistor:
			return nil, c.Fail(d.file, fmt.Sprintf("%s is %s, that is %s Ω: in a netlist M is milli", c.Name, c.Value, strconv.FormatFloat(v, 'g', 3, 64)), "a resistance of 0.1 Ω or more", "write MEG for a million")
		case kind == wiring.Capacitor && v < leastCapacitor:
			return nil, c.Fail(d.file, fmt.Sprintf("%s is %s, that is %s F: in a netlist F is femto", c.Name, c.Value, strconv.FormatFloat(v, 'g', 3, 64)), "a capacitance of 0.1 pF or more", "write 1 for a farad, 100n for a tenth of a microfarad")
		case kind == wiring.Capacitor && v > largestCapacitor:
			return nil, c.Fail(d.file, fmt.Sprintf("%s is %s, that is %s F: in a netlist a number alone is in farad", c.Name, c.Value, strconv.FormatFloat(v, 'g', 3, 64)), "a capacitance of 1 F or less", "write 100p for a hundred picofarad")
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
		met := map[string]bool{}
		for _, n := range c.Nodes {
			if netlist.Ground(n) || d.places(n) > 1 {
				met[strings.ToLower(n)] = true
			}
		}
		for _, n := range c.Nodes {
			low := strings.ToLower(n)
			if len(met) < 2 {
				continue // what hangs on one node alone carries no current
			}
			if _, held := d.held[low]; d.used[low] && !held && !netlist.Ground(n) {
				return &acquire.Error{File: d.file, Line: c.Line, Column: 1, What: fmt.Sprintf("%s is on the node %s, which sets the times, and is of a kind that is not modelled", c.Name, n), Expect: "resistors, capacitors and diodes there", Err: acquire.ErrSyntax}
			}
		}
		d.notes = append(d.notes, fmt.Sprintf("netlist: %s left out; it hangs on nothing that sets the times", c.Name))
	}
	return nil
}
