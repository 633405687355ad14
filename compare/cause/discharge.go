package cause

import "offbeat/fit/circuit"

// discharge: a resistance from the discharge pin to ground while the switch conducts, what feeds that pin still doing so;
// log-uniform from a hundredth to all of the actual resistance between that pin and the capacitor; or a voltage that stays in
// the switch.
var discharge = Cause{
	Name: "discharge",
	Key:  "discharge",
	Odds: []Row{{"", 0.01, 0.04, "a discharge switch that no longer pulls to ground: less than half as often as a worn timer's thresholds move (common practice)"}},
	Words: Words{
		Kind:    "weak discharge output",
		Title:   "weak discharge output",
		Detail:  dischargeDetail,
		Curve:   "weak discharge output",
		Lot:     "the timers' discharge outputs are weak",
		Retune:  "the likeliest cause is the timer's discharge output: change the timer first, since other parts would only hide it until it wears further",
		Repair:  "Change the timer",
		Form:    "a resistance from the discharge pin to ground, log-uniform from R2/100 to R2; three tenths: in its place a voltage in the switch, 0.02 … 0.3 of the supply",
		Meaning: "The timer's discharge switch no longer pulls to ground: a resistance from a hundredth of R2 to R2 stands in it, or a voltage stays that does the same. It lengthens the low time alone.",
		Also:    []string{"weak switch", "weak discharge switch", "weak discharge output", "discharge switch"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Has(circuit.WeakRatio) {
			return nil
		}
		// A voltage counts as the resistance that it is in the middle of the discharge.
		said := []*Parameter{{"discharge switch", "ohm", 0, func(v *circuit.Values) float64 {
			return (v[circuit.WeakRatio] + 2*v[circuit.SwitchVoltage]/v[circuit.Supply]) * b.Circuit.Discharging(v)
		}}}
		all := []Case{b.with(said, logUniform(circuit.WeakRatio, 0.01, 1)), b.with(said, b.ofSupply(circuit.SwitchVoltage, 0.02, mostLost))}
		all[0].Share, all[1].Share = 1-voltageShare, voltageShare
		return all
	},
}

// voltageShare is how often it is a voltage that stays in the switch (common practice).
const voltageShare = 0.3

func dischargeDetail(s *Said) string {
	if s.Brief {
		return "about " + s.Value(0)
	}
	return "discharge pin pulled low through about " + s.Value(0)
}
