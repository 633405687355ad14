package circuit

import "offbeat/fit"

// schmitt: R1 from an inverting Schmitt trigger's output to its input, C1 from there to ground. The thresholds
// differ so much between makers of one type number (two 40106: K 1.89 and 0.65 at 5 V) that they, not R1 and
// C1, dominate what is known beforehand: state the ones measured.
var schmitt = Circuit{
	Name:    "schmitt",
	Title:   "Schmitt-inverter oscillator",
	Parts:   oneResistor,
	Groups:  oneResistorGroups,
	Terms:   []Slot{Upper, Half, DelayFall, DelayRise, Bias, OutputDrop, OutputLow},
	Faults:  []Slot{LeakRatio, Contact, Stray},
	First:   []int{0},
	Default: fit.CMOS,
	Families: map[string][]Prior{
		fit.Ideal: nil,
		fit.CMOS: {
			{Upper, "positive-going threshold ratio", Normal, 0.60, 0.07, "typical 0.52 … 0.72 of the supply: 74HC1G14 table 7, HEF40106B p. 3, TL/F/5985 p. 2"},
			{Half, "negative-going over positive-going threshold", Normal, 0.60, 0.12, "typical 0.39 … 0.78: the same sheets"},
			{DelayFall, "delay from upper threshold to output fall", Uniform, 5e-9, 150e-9, "common practice: 10 ns (74HC) … 140 ns (40106 at 5 V)"},
			{DelayRise, "delay from lower threshold to output rise", Uniform, 5e-9, 150e-9, "common practice: 10 ns (74HC) … 140 ns (40106 at 5 V)"},
			{OutputDrop, "output high level below supply", Uniform, 0, 0.1, "common practice at timing currents"},
			{OutputLow, "output low level", Uniform, 0, 0.1, "common practice at timing currents"},
		},
	},
	Charge: []int{0},
	Times:  func(v *Values) (high, low float64, ok bool) { return v.cycle(outputRuns(v)) },
	Curve:  func(v *Values) Curve { return v.curve(outputRuns(v)) },
}
