package circuit

import "offbeat/fit"

// astableDiode: a diode across R2 carries the charge, so high is R1 C1 with the diode's drop, low R2 C1 ln 2.
var astableDiode = Circuit{
	Name:    "astable-diode",
	Title:   "astable, diode across R2",
	Parts:   twoResistors,
	Groups:  twoResistorGroups,
	Terms:   []Slot{Upper, Half, SwitchVoltage, SwitchResistance, DelayFall, DelayRise, Bias, DiodeDrop},
	Faults:  []Slot{LeakRatio, Upper, WeakRatio},
	First:   []int{0, 1},
	Default: fit.Bipolar,
	Charge:  []int{0},
	Path:    []int{1},
	Times: func(v *Values) (high, low float64, ok bool) {
		r1, r2, c := v[0], v[1], v[2]
		charge, discharge := diodeRuns(v)
		// The diode conducts while the current through R1 would drop more than its forward voltage across
		// R2; above that voltage of the capacitor the charge goes on through both resistors.
		if stop := v[Supply] - v[DiodeDrop]*(1+r1/r2); stop < v.upper() {
			return v.diodeStops(stop, charge, node(v[Supply], r1+r2, c, v[Bias], v.leak(r1)), discharge)
		}
		return v.cycle(charge, discharge)
	},
	Curve: func(v *Values) Curve { return v.curve(diodeRuns(v)) },
	Bends: true,
}

// diodeRuns are the runs while the diode conducts.
func diodeRuns(v *Values) (charge, discharge segment) {
	r1, r2, c := v[0], v[1], v[2]
	leak := v.leak(r1)
	source, path := v.discharge(r1, r2)
	return node(v[Supply]-v[DiodeDrop], r1, c, v[Bias], leak), node(source, path, c, v[Bias], leak)
}

// diodeStops is the cycle in which the diode conducts only up to the capacitor voltage stop.
func (v *Values) diodeStops(stop float64, diode, both, discharge segment) (high, low float64, ok bool) {
	valley := discharge.after(v.lower(), v[DelayRise])
	if stop <= valley {
		return v.cycle(both, discharge)
	}
	first := diode.until(valley, stop)
	// From stop on the chain is an ordinary cycle whose charge starts at stop instead of the valley.
	rest, low, ok := v.cycle(both, discharge)
	rest += v.stretch(both.until(stop, v.upper()) - both.until(valley, v.upper()))
	high = v.stretch(first) + rest
	return high, low, ok && runs(high) && diode.target > stop
}
