package wiring

import (
	"maps"
	"slices"
)

// Shipped is a wiring that the program brings along.
type Shipped struct {
	Name  string // as in circuit = "…"
	Title string // in plain words
	Text  string
	// Shares are nodes that it holds at a share of the supply, by name.
	Shares map[string]float64
}

// shipped lists them in the order of the documentation. The two-transistor multivibrator is not among them: it has two
// devices, and what ends its half-cycles is the junction at a base, which takes current, not a threshold.
var shipped = []Shipped{
	{"astable", "astable, two resistors", `U1  timer  trigger=cap threshold=cap
R1  supply discharge
R2  discharge cap
C1  cap ground
`, nil},
	{"astable-diode", "astable, diode across R2", `U1  timer  trigger=cap threshold=cap
R1  supply discharge
R2  discharge cap
C1  cap ground
D1  discharge cap      # anode, cathode: the charge goes past R2
`, nil},
	{"astable-output", "astable, one resistor fed from a rail-to-rail output", `U1  timer  trigger=cap threshold=cap
R1  output cap
C1  cap ground
`, nil},
	{"monostable", "monostable, one pulse a trigger", `U1  timer  threshold=cap discharge=cap
R1  supply cap
C1  cap ground
`, nil},
	{"bistable", "bistable, a set-reset latch: its truth table is checked, no part is timed", `U1  timer  trigger=set threshold=clear
`, nil},
	{"schmitt", "Schmitt-inverter oscillator", `U1  inverter  in=cap
R1  output cap
C1  cap ground
`, nil},
	{"comparator", "comparator (op-amp) relaxation oscillator", `U1  comparator  plus=ref minus=cap
R1  output cap
C1  cap ground
R2  output ref
R3  ref middle         # middle: a node held at half the supply
`, map[string]float64{"middle": 0.5}},
}

// Multivibrator names the nodes of the two-transistor multivibrator and what is tied to them: each base is charged through a
// resistor of its own, and coupled by a capacitor of its own to the other's collector.
func Multivibrator() *Wiring {
	w := &Wiring{
		Title: "two-transistor multivibrator",
		Cards: []Card{
			{Name: "R1", Kind: Resistor, Nodes: []string{Supply, PinBase1}},
			{Name: "C1", Kind: Capacitor, Nodes: []string{PinBase1, PinCollector2}},
			{Name: "R2", Kind: Resistor, Nodes: []string{Supply, PinBase2}},
			{Name: "C2", Kind: Capacitor, Nodes: []string{PinBase2, PinOutput}},
		},
		Device: Device{Name: "Q1 Q2", Kind: Pair},
		Nodes:  []string{Supply, PinBase1, PinCollector2, PinBase2, PinOutput, Ground},
		Held:   []string{Ground, Supply},
	}
	for _, n := range []string{PinBase1, PinCollector2, PinBase2, PinOutput, Supply, Ground} {
		w.Device.Pins = append(w.Device.Pins, Pin{Name: n, Node: n})
	}
	w.separate()
	return w
}

// All lists the shipped wirings.
func All() []Shipped { return shipped }

// Lookup finds a shipped wiring by name; false where there is none.
func Lookup(name string) (Shipped, bool) {
	if i := slices.IndexFunc(shipped, func(s Shipped) bool { return s.Name == name }); i >= 0 {
		return shipped[i], true
	}
	return Shipped{}, false
}

// Wiring reads the shipped text. Its error is a fault of the program, which a test rules out.
func (s Shipped) Wiring() (*Wiring, error) {
	w, err := Parse(s.Text, slices.Sorted(maps.Keys(s.Shares))...)
	if err == nil {
		w.Title = s.Title
	}
	return w, err
}
