package cause

import "offbeat/fit/circuit"

// stray: a capacitance from the timing node to ground that the drawing does not hold, log-uniform from 10 pF to 1 nF: a
// long lead (90 … 110 pF a metre), a probe (12 pF, or 110 pF undivided), a protoboard's rows (2 … 25 pF a contact).
var stray = Cause{
	Name: "stray",
	Key:  "stray",
	Odds: []Row{{"", 0.01, 0.005, "a lead or a probe at the timing node (common practice; it counts where the capacitor is small)"}},
	Shows: []Show{
		{"timing node", "", 0.9, "a probe or a lead is plain to see (common practice)"},
	},
	Words: Words{
		Kind:    "stray capacitance",
		Title:   "stray capacitance at the timing node",
		Detail:  func(s *Said) string { return "about " + s.Value(0) },
		Curve:   "stray capacitance",
		Lot:     "the boards have a stray capacitance",
		Retune:  "the likeliest cause is a stray capacitance at the timing node: shorten the lead or take the probe off first, then tune",
		Repair:  "Take the probe off the timing node, or shorten its lead",
		Form:    "a capacitance from the timing node to ground, log-uniform from 10 pF to 1 nF",
		Meaning: "A capacitance lies from the timing node to ground that the drawing does not hold: a long lead, a probe, the rows of a plug-in board. The times cannot tell it from a larger timing capacitor.",
		Also:    []string{"stray capacitance", "parasitic capacitance"},
		See:     []string{"confounded"},
	},
	Cases: func(b *Board) []Case {
		// Below a fiftieth of the capacitor it is nothing against tolerances.
		if !b.Circuit.Has(circuit.Stray) || mostStray < 0.02*b.Parts[b.capacitor()].Nominal {
			return nil
		}
		return []Case{b.with([]*Parameter{term("stray capacitance", "F", circuit.Stray)}, logUniform(circuit.Stray, leastStray, mostStray))}
	},
}

// leastStray and mostStray bound the stray capacitances counted, F, and mostLeft what is left of a timing capacitor that is missing:
// pins and tracks, and an undivided probe's 110 pF (common practice).
const leastStray, mostStray, mostLeft = 10e-12, 1e-9, 200e-12
