package circuit

import "offbeat/fit"

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
	Times: func(v *Values) (high, low float64, ok bool) {
		half := func(r, c float64) float64 {
			on := v[BaseEmitter]
			start := on - v[Supply] + v[SwitchVoltage]
			if v[Breakdown] > 0 {
				start = max(start, -v[Breakdown])
			}
			return v.stretch(node(v[Supply], r, c, v[Bias]).until(start, on))
		}
		high, low = half(v[0], v[1]), half(v[2], v[3])
		return high, low, runs(high) && runs(low)
	},
}
