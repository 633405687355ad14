package circuit

import "offbeat/fit"

// monostable: R1 from the supply to C1 and the discharge pin; a trigger starts one pulse of R1 C1 ln 3.
var monostable = Circuit{
	Name:     "monostable",
	Title:    "monostable, one pulse a trigger",
	Parts:    oneResistor,
	Groups:   oneResistorGroups,
	Terms:    []Slot{Upper, SwitchVoltage, SwitchResistance, DelayFall, Bias},
	Faults:   []Slot{LeakRatio, Contact, Stray, Upper},
	OnePulse: true,
	First:    []int{0},
	Default:  fit.Bipolar,
	Suits:    timers,
	Charge:   []int{0},
	Times: func(v *Values) (high, low float64, ok bool) {
		rest, charge := monostableRun(v)
		top := charge.inside(v.upper())
		high = v.stretch(charge.until(rest, top) + v[DelayFall])
		return high, 1, runs(high) && charge.target > v.upper() && rest < top
	},
	Curve: func(v *Values) Curve {
		rest, charge := monostableRun(v)
		return v.curveBetween(rest, v.upper(), charge, segment{share: 1})
	},
}

// monostableRun is the charge, and the voltage in which the conducting switch holds the capacitor before it.
func monostableRun(v *Values) (rest float64, charge segment) {
	r, c := v[0], v[1]
	source, path := v.discharge(r, 0)
	return v.node(source, path, c, r).target, v.node(v[Supply], r, c, r)
}
