package circuit

import (
	"math"

	"offbeat/fit"
)

// comparator: R1 from the output to C1 at the inverting input; R2 from the output to the other input and R3
// from there to mid-supply feed back the fraction b = R3/(R2+R3). High and low R1 C1 ln[(1+b)/(1-b)]. On a
// single supply two equal resistors from that input to the rails count as an R3 of half their value.
var comparator = Circuit{
	Name:  "comparator",
	Title: "comparator (op-amp) relaxation oscillator",
	Parts: []Spec{{"R1", fit.Resistor}, {"C1", fit.Capacitor}, {"R2", fit.Resistor}, {"R3", fit.Resistor}},
	Groups: []Group{
		{"R1*C1*ln(1+2*R3/R2)", "s", func(v *Values) float64 { return v[0] * v[1] * math.Log1p(2*v[3]/v[2]) }},
	},
	Terms:   []Slot{DelayFall, DelayRise, Bias, OutputDrop, OutputLow},
	Faults:  []Slot{LeakRatio, Contact, Stray},
	First:   []int{0},
	Default: fit.CMOS,
	Ratio:   &Ratio{0.5, 2, "high and low time differ by more than twofold, which one resistor for both cannot make: the divider's other end is not at mid-supply"},
	Charge:  []int{0},
	Times: func(v *Values) (high, low float64, ok bool) {
		down, up := comparatorThresholds(v)
		charge, discharge := outputRuns(v)
		return v.between(down, up, charge, discharge)
	},
	Curve: func(v *Values) Curve {
		down, up := comparatorThresholds(v)
		charge, discharge := outputRuns(v)
		return v.curveBetween(down, up, charge, discharge)
	},
}

// comparatorThresholds are what the feedback makes of the output's two levels, V.
func comparatorThresholds(v *Values) (down, up float64) {
	b := v[3] / (v[2] + v[3])
	top, bottom, middle := v[Supply]-v[OutputDrop], v[OutputLow], v[Supply]/2
	return middle + b*(bottom-middle), middle + b*(top-middle)
}
