package cause

import "offbeat/fit/posterior"

// aged: the capacitor has lost value and leaks: ln value lies below its lower limit by an exponential excess, the leakage
// is that of the cause of its name. Of the wear-out of electrolytic capacitors the makers say that C falls while leakage
// rises (Chemi-Con, notes on aluminium electrolytic capacitors), and an accelerated storage test found leakage up by
// 400 % beside a small loss of capacitance; end of life is called at C down by 20 … 50 % (Vishay 021 ASM p. 178).
var aged = Cause{
	Name:  "aged",
	Key:   "aged",
	Parts: 1,
	Odds: []Row{
		{"", 0.0005, 0.002, "a film or ceramic capacitor seldom loses value and leaks at once (common practice)"},
		{"electrolytic", 0.03, 0.20, "wear of an electrolytic lowers its value and raises its leakage (makers' end-of-life criteria); how often, common practice"},
		{"tantalum", 0.01, 0.04, "between the two (common practice)"},
	},
	Shows: []Show{
		{"inspection", "", 0.05, "an aged part mostly looks sound (common practice)"},
		{"inspection", "electrolytic", 0.3, "it bulges, is wet, or sits beside something hot (common practice)"},
		{"warm-up", "electrolytic", 0.5, "its leak falls under voltage (as leakage)"},
	},
	Words: Words{
		Kind:  "aged capacitor",
		Title: "%s aged",
		Detail: func(s *Said) string {
			if s.Brief {
				return "about " + s.Value(0) + ", " + s.Deviation(0) + ", leakage " + s.Value(1)
			}
			return "value about " + s.Value(0) + ", " + s.Deviation(0) + ", with leakage of about " + s.Value(1)
		},
		Curve:   "%s aged",
		Lot:     "the batch of %s has aged: less capacitance, and leakage",
		Retune:  "the likeliest cause is an aged capacitor, which goes on losing value and leaking: replace it first, then tune",
		Repair:  "Fit a new %s as drawn",
		Form:    "one capacitor: ln value below its lower limit by an exponential of mean 0.25, and a leakage as above",
		Meaning: "A capacitor has lost capacitance and leaks at once, as electrolytic capacitors do when they wear out. High and low time then move apart, which would otherwise look like a resistor.",
		Also:    []string{"aged capacitor", "dried out"},
		See:     []string{"leakage", "class"},
	},
	Cases: func(b *Board) []Case {
		var out []Case
		for _, k := range b.leaks() {
			p := b.Parts[k.part]
			low, _ := limits(p, p.Nominal)
			prior := b.Loose()
			prior[k.part] = b.Read(k.part, posterior.BelowValue(low, meanExcess))
			c := b.with(append(b.part(k.part), b.resistance(k)), k.prior())
			c.Parts, c.Shifts, c.Prior = []string{p.Name}, []int{k.part}, prior
			out = append(out, c)
		}
		return out
	},
}
