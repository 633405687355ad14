package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// Kind is what a card stands for.
type Kind int

const (
	Resistor      Kind = iota // two nodes
	Potentiometer             // two nodes: a variable resistor; three: end, wiper, end
	Capacitor                 // two nodes
	Diode                     // anode, cathode
)

// kindRow is what a kind of card looks like.
type kindRow struct {
	prefix      string
	kind        Kind
	name        string
	least, most int    // nodes
	nodes       string // what they are, for messages
}

// kinds lists the letters that begin a card's name, the longer first.
var kinds = []kindRow{
	{"RV", Potentiometer, "potentiometer", 2, 3, "two nodes, or end, wiper and end"},
	{"R", Resistor, "resistor", 2, 2, "two nodes"},
	{"C", Capacitor, "capacitor", 2, 2, "two nodes"},
	{"D", Diode, "diode", 2, 2, "its anode and its cathode"},
}

func (k Kind) String() string {
	for _, row := range kinds {
		if row.kind == k {
			return row.name
		}
	}
	return "part"
}

// Card is one part and where it is tied.
type Card struct {
	Name   string
	Kind   Kind
	Nodes  []string // canonical names
	Value  string   // what stood behind the nodes; empty: its value stands elsewhere
	Line   int      // from 1; 0: not read from a text
	Column int      // of the name, in characters from 1
	// ValueColumn is the column of the value, and Ends those of the nodes; 0 and none where there is none.
	ValueColumn int
	Ends        []int
}

// at is the column of the card's node of that number.
func (c *Card) at(end int) int {
	if end < len(c.Ends) {
		return c.Ends[end]
	}
	return c.Column
}

// Variable says whether the card is a potentiometer used as a variable resistor, its wiper tied to an end or left out.
func (c *Card) Variable() bool {
	return c.Kind == Potentiometer && (len(c.Nodes) == 2 || c.Nodes[1] == c.Nodes[0] || c.Nodes[1] == c.Nodes[2])
}

// The kinds of devices.
const (
	Timer      = "timer"
	Inverter   = "inverter" // with hysteresis (Schmitt)
	Comparator = "comparator"
	// Pair is the two transistors of a multivibrator with the resistors of their collectors: no card names it.
	Pair = "transistors"
)

// The pins of the devices.
const (
	PinGround    = "ground"
	PinTrigger   = "trigger"
	PinOutput    = "output"
	PinReset     = "reset"
	PinControl   = "control"
	PinThreshold = "threshold"
	PinDischarge = "discharge"
	PinSupply    = "supply"
	PinIn        = "in"
	PinPlus      = "plus"
	PinMinus     = "minus"
	// Of a pair: the second collector is the output's opposite, the first the output.
	PinBase1      = "base1"
	PinBase2      = "base2"
	PinCollector2 = "collector2"
)

// deviceRow is a kind of device.
type deviceRow struct {
	kind     string
	pins     []string
	required []string // pins that have no node of their own
}

// devices lists the kinds of devices and their pins.
var devices = []deviceRow{
	{Timer, []string{PinGround, PinTrigger, PinOutput, PinReset, PinControl, PinThreshold, PinDischarge, PinSupply}, nil},
	{Inverter, []string{PinIn, PinOutput}, nil},
	{Comparator, []string{PinPlus, PinMinus, PinOutput}, []string{PinPlus, PinMinus}},
}

// Device is the one active part.
type Device struct {
	Name   string
	Kind   string // Timer, Inverter, Comparator
	Pins   []Pin  // every pin the kind has, in its order
	Line   int
	Column int
}

// Pin is one pin and the node it is on.
type Pin struct {
	Name  string
	Node  string // canonical
	Named bool   // the card says so; else it is a node of the pin's own name
}

// Node is the node of a pin; empty where the device has no such pin.
func (d *Device) Node(pin string) string {
	for _, p := range d.Pins {
		if p.Name == pin {
			return p.Node
		}
	}
	return ""
}

// Nodes that are held in every wiring, and the one that a design may state.
const (
	Ground = "ground"
	Supply = "supply"
	Minus  = "minus"
)

// Wiring is a board's cards and its device, checked.
type Wiring struct {
	Title  string
	Cards  []Card // in the order written
	Device Device
	Nodes  []string // every node that a card or a pin is on, in the order met
	Held   []string // nodes held at a voltage: ground, supply, and what the design holds besides
	Runs   Mode     // what the device makes of it
	// What hangs together through parts, held nodes left out: the number of each such node's island, those that a comparing
	// pin is on, and those that the output or the discharge pin moves.
	joined   map[string]string // the node that now stands for one that a bridge has taken away, by its name in lower case
	island   map[string]int
	compared map[int]bool
	swings   map[int]bool
}

// Card returns the card of that name, or nil.
func (w *Wiring) Card(name string) *Card {
	for i := range w.Cards {
		if strings.EqualFold(w.Cards[i].Name, name) {
			return &w.Cards[i]
		}
	}
	return nil
}

// Node finds a node by its name, without regard to case; false where nothing is tied to one of that name.
func (w *Wiring) Node(name string) (canonical string, ok bool) {
	if name == "0" {
		name = Ground
	}
	for _, n := range w.Nodes {
		if strings.EqualFold(n, name) {
			return n, true
		}
	}
	n, ok := w.joined[strings.ToLower(name)]
	return n, ok
}

// Swings says whether the output or the discharge pin moves the node.
func (w *Wiring) Swings(node string) bool {
	k, ok := w.island[node]
	return ok && w.swings[k] || w.drives(node)
}

// Still says whether a node that something compares or holds stands at one voltage while the board runs: it is held, or no
// way leads to it from the output or the discharge pin.
func (w *Wiring) Still(node string) bool {
	if k, ok := w.island[node]; ok {
		return w.compared[k] && !w.swings[k]
	}
	return w.rail(node)
}

// IsHeld says whether a source or the device holds the node at a voltage: a held node or the output.
func (w *Wiring) IsHeld(node string) bool {
	return w.rail(node) || w.drives(node)
}

// drives says whether the device itself holds the node, high and low.
func (w *Wiring) drives(node string) bool {
	return node != "" && (node == w.Device.Node(PinOutput) || node == w.Device.Node(PinCollector2))
}

// Idle says whether the card has no bearing on the times: it lies between held nodes only (the output, which has no
// resistance, is one), no way leads from it to a pin that compares, or it is a capacitor whose voltage never changes.
func (w *Wiring) Idle(c *Card) bool {
	return !slices.ContainsFunc(c.Nodes, func(n string) bool {
		k, ok := w.island[n]
		return ok && w.compared[k] && (c.Kind != Capacitor || w.swings[k])
	})
}

// StillNodes lists the nodes whose voltage stands still (see Still), the supply first and ground left out.
func (w *Wiring) StillNodes() []string {
	out := []string{Supply}
	for _, n := range w.Nodes {
		if w.Still(n) && n != Ground && n != Supply {
			out = append(out, n)
		}
	}
	return out
}

// Compares says whether an end of the card is on a node whose voltage the device compares with a threshold.
func (w *Wiring) Compares(c *Card) bool {
	return slices.ContainsFunc(compares[w.Device.Kind], func(pin string) bool {
		return pin != PinControl && slices.Contains(c.Nodes, w.Device.Node(pin))
	})
}

// Tied says whether an end of a card is on the node.
func (w *Wiring) Tied(node string) bool { return w.onNode(node) > 0 }

// Loaded says whether something that has a bearing on the times is tied to the node, or a source holds it.
func (w *Wiring) Loaded(node string) bool {
	return w.rail(node) || slices.ContainsFunc(w.Cards, func(c Card) bool { return slices.Contains(c.Nodes, node) && !w.Idle(&c) })
}

// Error is a fault of a wiring: where, what, and what would be right.
type Error struct {
	Line   int // from 1; 0: of the whole
	Column int // in characters, from 1; 0: of the whole line
	What   string
	Want   string
}

func (e *Error) Error() string {
	text := e.What
	if e.Want != "" {
		text += "; expected " + e.Want
	}
	switch {
	case e.Line > 0 && e.Column > 0:
		return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, text)
	case e.Line > 0:
		return fmt.Sprintf("line %d: %s", e.Line, text)
	}
	return text
}

func quoted(s string) string { return `"` + s + `"` }

// rail says whether a source holds the node.
func (w *Wiring) rail(n string) bool {
	return slices.ContainsFunc(w.Held, func(h string) bool { return strings.EqualFold(h, n) })
}

// onNode counts the ends of cards on a node.
func (w *Wiring) onNode(n string) int {
	k := 0
	for _, c := range w.Cards {
		for _, m := range c.Nodes {
			if m == n {
				k++
			}
		}
	}
	return k
}

// Mode is what the device makes of a wiring.
type Mode int

// compares lists the pins that each kind of device compares.
var compares = map[string][]string{
	Timer:      {PinThreshold, PinTrigger, PinControl},
	Inverter:   {PinIn},
	Comparator: {PinPlus, PinMinus},
	Pair:       {PinBase1, PinBase2},
}
