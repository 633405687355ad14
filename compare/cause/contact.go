package cause

import "offbeat/fit/circuit"

// contact: a resistance in series with the capacitor, log-uniform from 0.1 to 1 of the charging resistance: a cracked
// joint, a corroded lead, or the series resistance of a dried electrolytic.
var contact = Cause{
	Name:  "contact",
	Key:   "contact",
	Parts: 1,
	Odds: []Row{
		{"", 0.005, 0.01, "a bad joint, which seldom settles at a resistance of this size (common practice)"},
		{"electrolytic", 0.005, 0.03, "its series resistance trebles by the end of its life (Vishay 021 ASM p. 178), from far below timing resistances (common practice)"},
	},
	Shows: []Show{
		{"inspection", "", 0.4, "a cracked joint, if one looks closely (common practice)"},
		{"warm-up", "", 0.3, "heat moves it (common practice)"},
	},
	Words: Words{
		Kind:    "bad contact at the capacitor",
		Title:   "bad contact at %s",
		Detail:  func(s *Said) string { return "about " + s.Value(0) + " in series" },
		Curve:   "bad contact at %s",
		Lot:     "the batch of %s has a resistance in series",
		Retune:  "the likeliest cause is a bad contact at the capacitor, which will change again: solder it anew first, then tune",
		Repair:  "Solder %s anew",
		Form:    "a resistance in series with the capacitor, log-uniform from 0.1 to 1 times the charging resistance",
		Meaning: "A resistance stands in series with the timing capacitor: a cracked joint, a corroded lead, a dried electrolytic. The node jumps where the current turns, so that both times are cut short.",
		Also:    []string{"bad contact", "series resistance"},
	},
	Cases: func(b *Board) []Case {
		if !b.Circuit.Has(circuit.Contact) {
			return nil
		}
		c := b.Parts[b.capacitor()].Name
		k := b.with([]*Parameter{{"series resistance at " + c, "ohm", 0, func(v *circuit.Values) float64 { return v[circuit.Contact] * b.Circuit.Charging(v) }}},
			logUniform(circuit.Contact, 0.1, 1))
		k.Parts = []string{c}
		return []Case{k}
	},
}
