package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// discharge: a resistance from the discharge pin to ground while the switch conducts, what feeds that pin still doing so;
// log-uniform from a hundredth to all of the actual resistance between that pin and the capacitor.
var discharge = Cause{
	Name: "discharge",
	Key:  "discharge",
	Odds: []Row{{"", 0.01, 0.02, "a discharge switch that no longer pulls to ground"}},
	Words: Words{
		Kind:    "weak discharge output",
		Title:   "weak discharge output",
		Detail:  dischargeDetail,
		Curve:   "weak discharge output",
		Lot:     "the timers' discharge outputs are weak",
		Retune:  "the likeliest cause is the timer's discharge output: change the timer first, since other parts would only hide it until it wears further",
		Repair:  "Change the timer",
		Form:    "a resistance from the discharge pin to ground, log-uniform from R2/100 to R2",
		Meaning: "The timer's discharge switch no longer pulls to ground: a resistance from a hundredth of R2 to R2 stands in it. It lengthens the low time alone.",
		Also:    []string{"weak switch", "weak discharge switch", "weak discharge output", "discharge switch"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Has(circuit.WeakRatio) {
			return nil
		}
		return []Case{{
			Hypothesis: posterior.Hypothesis{
				Prior:    b.InTolerance(),
				Override: []posterior.Variable{{Slot: circuit.WeakRatio, Log: true, Density: posterior.Uniform(math.Log(0.01), 0)}},
			},
			Parameters: []*Parameter{{"discharge switch", "ohm", 0, func(v *circuit.Values) float64 { return v[circuit.WeakRatio] * b.Circuit.Discharging(v) }}},
		}}
	},
}

func dischargeDetail(s *Said) string {
	if s.Brief {
		return "about " + s.Value(0)
	}
	return "discharge pin pulled low through about " + s.Value(0)
}
