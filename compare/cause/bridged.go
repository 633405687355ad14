package cause

import "offbeat/fit/circuit"

// bridged: a part's two ends are joined: the wiring with its nodes made one, where that still runs.
var bridged = Cause{
	Name:  "bridged",
	Key:   "bridged",
	Parts: 1,
	Odds: []Row{
		{"", 0.005, 0.003, "a solder bridge, or a short: 0.05 of a film resistor's failures, 0.4 … 0.7 of a capacitor's (MIL-HDBK-338B modes, from memory); it mostly stops the board (common practice)"},
		{"diode", 0.005, 0.005, "a diode fails short as often as open (common practice)"},
	},
	Shows: []Show{
		{"inspection", "", 0.7, "a solder bridge is seen, a short inside is not (common practice)"},
	},
	Words: Words{
		Kind:    "a part bridged",
		Title:   "%s bridged or shorted",
		Curve:   "%s bridged",
		Lot:     "%s is bridged",
		Repair:  "Clear the short across %s",
		Retune:  "the likeliest cause is a part that is bridged: remove the short first, then tune",
		Form:    "the wiring with a part's two nodes joined, where that still runs, or the output stands still; the others in tolerance",
		Meaning: "A part's two ends are joined: a solder bridge, a whisker, a part that has shorted. It is asked where the board still runs with it, and of a board that stands still.",
		Also:    []string{"shorted", "solder bridge"},
	},
	Cases: func(b *Board) []Case { return b.rewired((*circuit.Circuit).Bridged, b.swinging()) },
}
