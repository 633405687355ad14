package cause

import "offbeat/fit/circuit"

// output: where the output feeds the capacitor, its high level, its low level or both stop short of the rails by 0.02 to 0.3
// of the supply, uniformly: a worn or loaded output stage.
var output = Cause{
	Name: "output",
	Key:  "output",
	Odds: []Row{{"", 0.01, 0.04, "a loaded or weak output: as often as a weak switch (common practice)"}},
	Words: Words{
		Kind:  "weak output",
		Title: "weak output",
		Detail: func(s *Said) string {
			return "about " + s.Value(0) + " short of the upper rail, " + s.Value(1) + " of the lower"
		},
		Curve:   "weak output",
		Lot:     "the devices' outputs are weak",
		Retune:  "the likeliest cause is the output, which stops short of its rails: take its load off or change the device first",
		Repair:  "Take the load off the output, else change the device",
		Form:    "the output's high level (0.4), low level (0.3) or both (0.3) short of the rail by 0.02 … 0.3 of the supply",
		Meaning: "The output that feeds the capacitor stops short of its rails: it is loaded, worn or of another kind. What charges or discharges the capacitor is then less.",
		Also:    []string{"output levels"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Reads(circuit.OutputDrop) || !b.Circuit.Reads(circuit.OutputLow) {
			return nil
		}
		return b.oneOrBoth(b.ofSupply(circuit.OutputDrop, 0.02, 0.3), b.ofSupply(circuit.OutputLow, 0.02, 0.3),
			term("output below the upper rail", "V", circuit.OutputDrop), term("output above the lower rail", "V", circuit.OutputLow))
	},
}
