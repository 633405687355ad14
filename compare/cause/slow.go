package cause

import "offbeat/fit/circuit"

// leastLag and mostLag bound a slow device's delay, s: from the longest in a timer's sheet (Philips NE555, turn-off time) to twice
// what an amplifier of 0.3 V/µs takes for 30 V (SLOS068AB).
const leastLag, mostLag = 2e-6, 200e-6

// slow: the output follows its comparator late, falling, rising or both: delays are log-uniform between these. Where the longest
// is less than a fiftieth of a half-cycle it is nothing against tolerances.
var slow = Cause{
	Name: "slow",
	Key:  "slow",
	Odds: []Row{{"", 0.005, 0.02, "a slow or overdriven comparator, an amplifier in its place, a filter before its pin: half as often as a weak discharge output (common practice)"}},
	Words: Words{
		Kind:   "device switches late",
		Title:  "device switches late",
		Detail: func(s *Said) string { return "by about " + s.Value(0) + " at the fall, " + s.Value(1) + " at the rise" },
		Curve:  "device switches late",
		Lot:    "the devices switch late",
		Retune: "the likeliest cause is a device that switches late: change it first, since its delay moves with heat and supply",
		Repair: "Change the device for a faster one, and look for a filter before its pins",
		Form:   "the delay to the output's fall (0.4), to its rise (0.3) or both (0.3) log-uniform from 2 µs to 200 µs",
		Meaning: "The output follows the capacitor late: a comparator that is slow, overdriven or starved, an amplifier in its place. The capacitor runs past its threshold " +
			"meanwhile, so that a late fall lengthens both times.",
		Also: []string{"propagation delay", "late switching"},
	},
	Cases: func(b *Board) []Case {
		v, err := b.Circuit.Typical(b.Design)
		if err != nil || !b.Circuit.Reads(circuit.DelayFall) {
			return nil
		}
		if high, low, ok := b.Circuit.Times(&v); ok && mostLag < 0.02*b.shorter(high, low) {
			return nil
		}
		all := b.oneOrBoth(logUniform(circuit.DelayFall, leastLag, mostLag), logUniform(circuit.DelayRise, leastLag, mostLag), term("delay at the fall", "s", circuit.DelayFall), term("delay at the rise", "s", circuit.DelayRise))
		if b.Circuit.OnePulse { // which the rise begins
			all = all[:1]
			all[0].Share = 1
		}
		return all
	},
}
