package circuit

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// multivibrator: two cross-coupled transistors. High is R1 C1 ln 2, low R2 C2 ln 2: each base starts from the
// on voltage less the swing of the other collector, or from where its junction breaks down, and runs toward the supply until it turns its transistor on.
// Each collector is taken to be back at the supply before its capacitor is used again.
var multivibrator = Circuit{
	Name:  "multivibrator",
	Title: "two-transistor multivibrator",
	Parts: []Spec{{Name: "R1", Kind: fit.Resistor}, {Name: "C1", Kind: fit.Capacitor}, {Name: "R2", Kind: fit.Resistor}, {Name: "C2", Kind: fit.Capacitor}},
	Groups: []Group{
		{Name: "R1*C1", Unit: "s", Of: func(v *Values) float64 { return v[0] * v[1] }},
		{Name: "R2*C2", Unit: "s", Of: func(v *Values) float64 { return v[2] * v[3] }},
	},
	Terms:   []Slot{BaseEmitter, SwitchVoltage, Breakdown, Bias},
	First:   []int{0, 2},
	Default: fit.Bipolar,
	Families: map[string][]Prior{
		fit.Ideal: nil,
		fit.Bipolar: {
			{BaseEmitter, "base-emitter voltage", Uniform, 0.55, 0.75, "silicon transistor, common practice"},
			{Breakdown, "base-emitter breakdown voltage", Uniform, 6, 9.5, "5 … 6 V guaranteed at 10 µA for small-signal types (2N3904, BC546 … 548 sheets); what they reach above it is common practice"},
			{SwitchVoltage, "collector saturation voltage", Uniform, 0.02, 0.2, "small-signal transistor at some mA, common practice"},
		},
	},
	Times:    coupled(nil).times,
	Wiring:   wiring.Multivibrator(),
	means:    &means{next: multivibratorLoads, relative: []Slot{LeakRatio, Contact}},
	variants: &cache[string]{},
}

// multivibratorLoads is the slot of the first load, behind those of the parts.
const multivibratorLoads Slot = 4

// coupled is the law of the multivibrator with sets of loads on its bases, as in Circuit.Loaded.
type coupled [][]Load

func (sets coupled) times(v *Values) (high, low float64, ok bool) {
	high, low = sets.half(v, 0), sets.half(v, 1)
	return high, low, runs(high) && runs(low)
}

// half is the time that base 1 or, with 1, base 2 keeps its transistor off.
func (sets coupled) half(v *Values, side int) float64 {
	s, start := sets.run(v, side)
	return v.stretch(s.until(start, v[BaseEmitter]))
}

// run is how that base moves, and from where. A resistor from it to ground shares the current of its own one, a capacitance
// the charge that its own one brings; a source holds it, so that it never starts.
func (sets coupled) run(v *Values, side int) (s segment, start float64) {
	ohm, farad, source := v[2*side], v[2*side+1], v[Supply]
	own := farad
	if k := v[Loads]; k != 0 {
		for i, l := range sets[int(k)-1] {
			if l.Node != [2]string{wiring.PinBase1, wiring.PinBase2}[side] {
				continue
			}
			switch x := v[multivibratorLoads+Slot(i)]; l.Kind {
			case LoadOhm:
				source *= x / (ohm + x)
				ohm *= x / (ohm + x)
			case LoadFarad:
				farad += x
			case LoadVolt:
				return segment{x, math.NaN()}, x
			}
		}
	}
	start = v[BaseEmitter] - (v[Supply]-v[SwitchVoltage])*own/farad
	if v[Breakdown] > 0 {
		start = max(start, -v[Breakdown])
	}
	return node(source, ohm, farad, v[Bias]), start
}
