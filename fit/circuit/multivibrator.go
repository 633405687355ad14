package circuit

import (
	"math"

	"gonum.org/v1/gonum/floats/scalar"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// multivibrator: two cross-coupled transistors. High is R1 C1 ln 2, low R2 C2 ln 2: each base starts from the
// on voltage less the swing of the other collector, or from where its junction breaks down, and runs toward the supply until it turns its transistor on.
// Each collector comes back toward the supply through its resistor, which charges the capacitor on it: a half-cycle that is short
// against that leaves the next one with less swing, and the output rises late.
var multivibrator = Circuit{
	Name:  "multivibrator",
	Title: "two-transistor multivibrator",
	Parts: []Spec{{Name: "R1", Kind: fit.Resistor}, {Name: "C1", Kind: fit.Capacitor}, {Name: "R2", Kind: fit.Resistor}, {Name: "C2", Kind: fit.Capacitor}},
	Groups: func() ([]Group, []int) {
		return []Group{
			{Name: "R1*C1", Unit: "s", Of: func(v *Values) float64 { return v[0] * v[1] }},
			{Name: "R2*C2", Unit: "s", Of: func(v *Values) float64 { return v[2] * v[3] }},
		}, []int{0, 2}
	},
	Terms:   []Slot{BaseEmitter, SwitchVoltage, Breakdown, Collector, Bias},
	Default: fit.Bipolar,
	Families: map[string][]Prior{
		fit.Ideal: nil,
		fit.Bipolar: {
			{BaseEmitter, "base-emitter voltage", Uniform, 0.55, 0.75, "silicon transistor, common practice"},
			{Breakdown, "base-emitter breakdown voltage", Uniform, 6, 9.5, "5 … 6 V guaranteed at 10 µA for small-signal types (2N3904, BC546 … 548 sheets); what they reach above it is common practice"},
			{SwitchVoltage, "collector saturation voltage", Uniform, 0.02, 0.2, "small-signal transistor at some mA, common practice"},
			{Collector, "collector resistor", Uniform, leastCollector, mostCollector, "a hundredth to a tenth of the smaller base resistor: a gain of 100 saturates a transistor with some to spare, common practice"},
		},
	},
	Times:    coupled(nil).times,
	Wiring:   wiring.Multivibrator(),
	means:    &means{next: multivibratorLoads, relative: []Slot{LeakRatio, Contact}},
	variants: &cache[string]{},
}

// leastCollector and mostCollector bound the collectors' resistors, over the smaller resistor of a base.
const leastCollector, mostCollector = 0.01, 0.1

// multivibratorLoads is the slot of the first load, behind those of the parts.
const multivibratorLoads Slot = 4

// coupled is the law of the multivibrator with sets of loads on its bases, as in Circuit.Loaded.
type coupled [][]Load

func (sets coupled) times(v *Values) (high, low float64, ok bool) {
	high, low = sets.half(v, 0, math.Inf(1)), sets.half(v, 1, math.Inf(1))
	// The less a half-cycle lets a collector come back, the shorter is the next: both fall to where they agree.
	for range 1000 {
		if !(v[Collector] > 0) || !runs(high) || !runs(low) {
			break
		}
		h := sets.half(v, 0, low)
		l := sets.half(v, 1, h)
		settled := scalar.EqualWithinRel(h, high, 1e-15) && scalar.EqualWithinRel(l, low, 1e-15)
		if high, low = h, l; settled {
			break
		}
	}
	late := v.rises(high)
	high, low = v.stretch(high-late), v.stretch(low+late)
	return high, low, runs(high) && runs(low)
}

// rises is how long after its transistor turns off the output passes midway to where it is when that turns on again.
func (v *Values) rises(high float64) float64 {
	tau := v[Collector] * v[3]
	if !(tau > 0) {
		return 0
	}
	return -tau * math.Log1p(math.Expm1(-high/tau)/2)
}

// half is the time that base 1 or, with 1, base 2 keeps its transistor off, after the other one was off for so long.
func (sets coupled) half(v *Values, side int, other float64) float64 {
	s, start := sets.run(v, side, other)
	return s.until(start, v[BaseEmitter])
}

// run is how that base moves, and from where. A resistor from it to ground shares the current of its own one, a capacitance
// the charge that its own one brings; a source holds it, so that it never starts.
func (sets coupled) run(v *Values, side int, other float64) (s segment, start float64) {
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
	swing := -(v[Supply] - v[SwitchVoltage] - v[[2]Slot{OutputLow, OutputDrop}[side]]) * math.Expm1(-other/(v[Collector]*own))
	start = v[BaseEmitter] - swing*own/farad
	if v[Breakdown] > 0 {
		start = max(start, -v[Breakdown])
	}
	return node(source, ohm, farad, v[Bias]), start
}
