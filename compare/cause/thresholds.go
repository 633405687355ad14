package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// controlRange is where a loaded or driven control pin may sit, as a ratio to the supply.
var controlRange = posterior.Uniform(0.40, 0.90)

// thresholds: the control pin is loaded or driven, its ratio to the supply uniform over 0.40 … 0.90, the
// lower threshold half of the upper.
var thresholds = Cause{"thresholds", "thresholds", func(b *Board) []Case {
	if !b.Circuit.Has(circuit.Upper) {
		return nil
	}
	return []Case{{
		Hypothesis: posterior.Hypothesis{
			Prior:    b.InTolerance(),
			Override: []posterior.Variable{{Slot: circuit.Upper, Density: b.ReadControl(controlRange)}},
			Fixed:    []posterior.Fixed{{Slot: circuit.Half, Value: 0.5}},
		},
		Parameter: &Parameter{"control pin over supply", "1", 2. / 3, func(v *circuit.Values) float64 { return v[circuit.Upper] }},
	}}
}}
