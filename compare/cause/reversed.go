package cause

import "offbeat/fit/circuit"

// reversed: a diode sits the other way round, where the board still runs.
var reversed = Cause{
	Name:  "reversed",
	Key:   "reversed",
	Parts: 1,
	Odds:  []Row{{"", 0.02, 0.0005, "a builder's slip: a board that was right has none unless repaired (common practice)"}},
	Shows: []Show{
		{"inspection", "", 0.95, "the mark on a diode is plain to see (common practice)"},
	},
	Words: Words{
		Kind:    "a diode reversed",
		Title:   "%s reversed",
		Curve:   "%s reversed",
		Lot:     "%s is reversed",
		Repair:  "Turn %s round",
		Retune:  "the likeliest cause is a diode the wrong way round: turn it first, then tune",
		Form:    "the wiring with a diode turned, where that still runs, or the output stands still; the parts in tolerance",
		Meaning: "A diode sits the other way round. It is asked where the board still runs with it, and of a board that stands still.",
		Also:    []string{"diode the wrong way round"},
	},
	Cases: func(b *Board) []Case { return b.rewired((*circuit.Circuit).Reversed, b.diodes()) },
}
