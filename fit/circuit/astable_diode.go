package circuit

import "offbeat/fit"

// astableDiode: a diode across R2 carries the charge, so high is R1 C1 with the diode's drop, low R2 C1 ln 2.
var astableDiode = Circuit{
	Name:    "astable-diode",
	Title:   "astable, diode across R2",
	Parts:   twoResistors,
	Groups:  twoResistorGroups,
	Terms:   []Slot{Upper, Half, SwitchVoltage, SwitchResistance, DelayFall, DelayRise, Bias, DiodeDrop},
	Faults:  []Slot{LeakRatio, Contact, Stray, Upper, WeakRatio},
	First:   []int{0, 1},
	Default: fit.Bipolar,
	Suits:   timers,
	Charge:  []int{0},
	Path:    []int{1},
	Times: func(v *Values) (high, low float64, ok bool) {
		r1, r2, c := v[0], v[1], v[2]
		charge, discharge := diodeRuns(v)
		// The diode conducts while the current through R1 would drop more than its forward voltage across
		// R2; above that voltage of the capacitor the charge goes on through both resistors.
		if stop := v[Supply] - v[DiodeDrop]*(1+r1/r2); stop < v.upper() {
			return v.diodeStops(stop, charge, v.node(v[Supply], r1+r2, c, r1), discharge)
		}
		return v.cycle(charge, discharge)
	},
	Curve: func(v *Values) Curve { return v.curve(diodeRuns(v)) },
	Bends: true,
}

// diodeRuns are the runs while the diode conducts.
func diodeRuns(v *Values) (charge, discharge segment) {
	r1, r2, c := v[0], v[1], v[2]
	source, path := v.discharge(r1, r2)
	return v.node(v[Supply]-v[DiodeDrop], r1, c, r1), v.node(source, path, c, r1)
}

// diodeStops is the cycle in which the diode conducts only up to the capacitor voltage stop.
func (v *Values) diodeStops(stop float64, diode, both, discharge segment) (high, low float64, ok bool) {
	valley := discharge.after(discharge.inside(v.lower()), v[DelayRise])
	inside := diode.inside(stop)
	if inside <= valley {
		return v.cycle(both, discharge)
	}
	first := diode.until(valley, inside)
	// From stop on the chain is an ordinary cycle whose charge starts at stop instead of the valley.
	rest, low, ok := v.cycle(both, discharge)
	top := both.inside(v.upper())
	rest += v.stretch(both.until(inside, top) - both.until(valley, top))
	high = v.stretch(first) + rest
	return high, low, ok && runs(high) && diode.target > stop
}
