package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// What an output may lose of the supply (common practice), and what a collector of a multivibrator: there a transistor whose gain is
// below what its resistors ask for does not saturate, which at a gain of 5 where 25 is wanted leaves a fifth of the swing.
const mostLost, mostOfSwing = 0.3, 0.85

// transistors is the class of the two of a multivibrator, each with a collector's resistor that no drawing here names.
const transistors = "transistors"

var outputOdds = []Row{
	{"", 0.01, 0.04, "a loaded or weak output: as often as a weak switch (common practice)"},
	{transistors, 0.05, 0.08, "a worn transistor as often as a weak switch, and there are two; of a new board one of another type, or a collector's resistor of another value, too (common practice)"},
}

// output: where the output feeds the capacitor, its high level, its low level or both stop short of the rails by 0.02 to 0.3
// of the supply, uniformly: a worn or loaded output stage. Likewise the swing of a multivibrator's collectors, of one or both.
var output = Cause{
	Name: "output",
	Key:  "output",
	Odds: outputOdds,
	Words: Words{
		Kind:  "weak output",
		Title: "weak output",
		Detail: func(s *Said) string {
			return "about " + s.Value(0) + " " + s.Parameters[0].Name + ", " + s.Value(1) + " " + s.Parameters[1].Name
		},
		Curve:   "weak output",
		Lot:     "the devices' outputs are weak",
		Retune:  "the likeliest cause is the output, which stops short of its rails: take its load off or change the device first",
		Repair:  "Take the load off the output, else change the device",
		Form:    "the output's high level (0.4), low level (0.3) or both (0.3) short of the rail by 0.02 … 0.3 of the supply; of a multivibrator the swing of the output's collector, of the other one, or of both by one gain, by 0.02 … 0.85, in half of the last told at half the supply, which so small a swing passes for a moment only",
		Meaning: "The output that feeds the capacitor stops short of its rails: it is loaded, worn or of another kind. What charges or discharges the capacitor is then less. In a multivibrator a loaded collector, or a transistor of too little gain, swings less, and the half-cycle that it drives is shorter.",
		Also:    []string{"output levels", "low gain"},
	},
	Cases: func(b *Board) []Case {
		w := b.Circuit.Wiring
		switch {
		case w != nil && w.Device.Kind == wiring.Pair:
			all := b.oneOrBoth(b.ofSupply(circuit.OutputDrop, 0.02, mostOfSwing), b.ofSupply(circuit.OutputLow, 0.02, mostOfSwing),
				term("lost at the output's collector", "V", circuit.OutputDrop), term("lost at the other one", "V", circuit.OutputLow))
			all[2].Override, all[2].Tie, all[2].Share = all[2].Override[:1], oneGain, all[2].Share/2
			half := all[2]
			half.See = atHalf
			all = append(all, half)
			for i := range all {
				all[i].Preset = b.odds.row(outputOdds, transistors)
			}
			return all
		case !b.Circuit.Reads(circuit.OutputDrop) || !b.Circuit.Reads(circuit.OutputLow):
			return nil
		}
		return b.oneOrBoth(b.ofSupply(circuit.OutputDrop, 0.02, mostLost), b.ofSupply(circuit.OutputLow, 0.02, mostLost),
			term("short of the upper rail", "V", circuit.OutputDrop), term("short of the lower one", "V", circuit.OutputLow))
	},
}

// oneGain gives both transistors of a multivibrator one gain, so that each swing is as the current into its base, if not all there
// is: what is drawn is lost where the base's own resistor is the larger.
func oneGain(v *circuit.Values) {
	full, lost := v[circuit.Supply]-v[circuit.SwitchVoltage], v[circuit.OutputDrop]
	weaker, other, ratio := circuit.OutputDrop, circuit.OutputLow, v[0]/v[2]
	if ratio < 1 {
		weaker, other, ratio = other, weaker, 1/ratio
	}
	v[weaker], v[other] = lost, max(0, full-(full-lost)*ratio)
}

// atHalf are the times of a multivibrator's output about half the supply, as a logic input tells them: a smaller swing passes it only
// while the other collector's rise, (V2/Rc) exp(-t/(Rc C1)) beside V/R1, feeds the base. (Transistors of a gain of 8 to 20 where 25
// saturates them, integrated by the Ebers-Moll equations, lie below for 4 to 25 % less.)
func atHalf(v *circuit.Values, high, low float64) (float64, float64, bool) {
	swing, other := v[circuit.Supply]-v[circuit.SwitchVoltage]-v[circuit.OutputDrop], v[circuit.Supply]-v[circuit.SwitchVoltage]-v[circuit.OutputLow]
	if 2*swing >= v[circuit.Supply] || v[circuit.Collector] == 0 {
		return high, low, true
	}
	brought := v[0] / v[circuit.Collector] * other / (v[circuit.Supply] - v[circuit.BaseEmitter])
	below := min(v[circuit.Collector]*v[1]*math.Exp(v[circuit.Clock])*math.Log(brought/(v[circuit.Supply]/2/swing-1)), low)
	return high + low - below, below, below > 0
}
