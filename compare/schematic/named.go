package schematic

import "offbeat/fit/wiring"

// Pair is the device of the two-transistor multivibrator: both transistors and their collectors' resistors as one box. It is
// drawn only; its law is written by hand (package circuit), so no wiring names it.
const Pair = "transistors"

// multivibrator has each base charged through its own resistor, and coupled by its own capacitor to the other's collector
// (package fittest integrates just this).
var multivibrator = wiring.Wiring{
	Title: "two-transistor multivibrator",
	Cards: []wiring.Card{
		{Name: "R1", Kind: wiring.Resistor, Nodes: []string{wiring.Supply, "base 1"}},
		{Name: "C1", Kind: wiring.Capacitor, Nodes: []string{"base 1", "collector 2"}},
		{Name: "R2", Kind: wiring.Resistor, Nodes: []string{wiring.Supply, "base 2"}},
		{Name: "C2", Kind: wiring.Capacitor, Nodes: []string{"base 2", wiring.PinOutput}},
	},
	Device: wiring.Device{Name: "Q1 Q2", Kind: Pair, Pins: []wiring.Pin{
		{Name: "base 1", Node: "base 1", Named: true}, {Name: "collector 2", Node: "collector 2", Named: true},
		{Name: "base 2", Node: "base 2", Named: true}, {Name: "collector 1", Node: wiring.PinOutput, Named: true},
		{Name: wiring.PinSupply, Node: wiring.Supply}, {Name: wiring.PinGround, Node: wiring.Ground},
	}},
	Nodes: []string{wiring.Supply, "base 1", "collector 2", "base 2", wiring.PinOutput, wiring.Ground},
	Held:  []string{wiring.Ground, wiring.Supply},
}

// Named lays a circuit of the list out; nil: there is none of that name.
func Named(circuit string) *Drawing {
	if circuit == "multivibrator" {
		return Of(&multivibrator)
	}
	s, ok := wiring.Lookup(circuit)
	if !ok {
		return nil
	}
	w, err := s.Wiring()
	if err != nil {
		return nil
	}
	return Of(w)
}

// powered says whether a device is fed through its top and foot.
func powered(d *wiring.Device) bool { return d.Kind == wiring.Timer || d.Kind == Pair }

// Rail says whether a node feeds the device at its top or foot.
func (d *Drawing) Rail(node string) bool {
	return powered(&d.Device) && (node == wiring.Supply || node == wiring.Ground)
}
