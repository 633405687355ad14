package circuit

import (
	"math"

	"offbeat/fit"
)

// twoResistors are the parts of the two astables that discharge through R2.
var twoResistors = []Spec{{"R1", fit.Resistor}, {"R2", fit.Resistor}, {"C1", fit.Capacitor}}

// twoResistorGroups are what their times pin down.
var twoResistorGroups = []Group{
	{"R2*C1", "s", func(v *Values) float64 { return v[1] * v[2] }},
	{"R1/R2", "1", func(v *Values) float64 { return v[0] / v[1] }},
}

// astable: R1 from the supply to the discharge pin, R2 from there to C1. High (R1+R2) C1 ln 2, low R2 C1 ln 2.
var astable = Circuit{
	Name:    "astable",
	Title:   "astable, two resistors",
	Parts:   twoResistors,
	Groups:  twoResistorGroups,
	Terms:   []Slot{Upper, Half, SwitchVoltage, SwitchResistance, DelayFall, DelayRise, Bias},
	Faults:  []Slot{LeakRatio, Contact, Stray, Upper, WeakRatio},
	First:   []int{0, 1},
	Default: fit.Bipolar,
	Suits:   timers,
	Charge:  []int{0, 1},
	Path:    []int{1},
	Ratio:   &Ratio{1, math.Inf(1), "the high time is no longer than the low time, which two resistors cannot make (both charge, one discharges): a diode lies across R2 (circuit astable-diode)"},
	Times:   func(v *Values) (high, low float64, ok bool) { return v.cycle(astableRuns(v)) },
	Curve:   func(v *Values) Curve { return v.curve(astableRuns(v)) },
}

func astableRuns(v *Values) (charge, discharge segment) {
	r1, r2, c := v[0], v[1], v[2]
	source, path := v.discharge(r1, r2)
	return v.node(v[Supply], r1+r2, c, r1+r2), v.node(source, path, c, r1+r2)
}
