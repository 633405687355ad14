package circuit

import "offbeat/fit"

// oneResistor are the parts of the circuits with a single timing resistor.
var oneResistor = []Spec{{"R1", fit.Resistor}, {"C1", fit.Capacitor}}

// oneResistorGroups are what their times pin down.
var oneResistorGroups = []Group{{"R1*C1", "s", func(v *Values) float64 { return v[0] * v[1] }}}

// astableOutput: R1 from the output to C1, so the output both charges and discharges. High and low R1 C1 ln 2.
var astableOutput = Circuit{
	Name:    "astable-output",
	Title:   "astable, one resistor fed from a rail-to-rail output",
	Parts:   oneResistor,
	Groups:  oneResistorGroups,
	Terms:   []Slot{Upper, Half, DelayFall, DelayRise, Bias, OutputDrop, OutputLow},
	Faults:  []Slot{LeakRatio, Contact, Stray, Upper},
	First:   []int{0},
	Default: fit.CMOS,
	Suits:   timers,
	Ratio:   &Ratio{0.5, 2, "high and low time differ by more than twofold, which one resistor for both cannot make: the design has another circuit, the output is loaded"},
	Charge:  []int{0},
	Times:   func(v *Values) (high, low float64, ok bool) { return v.cycle(outputRuns(v)) },
	Curve:   func(v *Values) Curve { return v.curve(outputRuns(v)) },
}

// outputRuns are those of R1 between an output and C1.
func outputRuns(v *Values) (charge, discharge segment) {
	r, c := v[0], v[1]
	return v.node(v[Supply]-v[OutputDrop], r, c, r), v.node(v[OutputLow], r, c, r)
}
