package cause

import (
	"slices"

	"offbeat/fit"
	"offbeat/fit/posterior"
)

// meanExcess is the mean of the exponential by which a shifted part's ln value lies outside its tolerance.
const meanExcess = 0.25

// shift is the prior of part i when it has moved: |ln(value/nominal)| = |ln(1±T)| + e, e exponential,
// above as often as parts of its class are.
func (b *Board) shift(i int) posterior.Density {
	low, high := limits(b.Parts[i], b.Parts[i].Nominal)
	return b.Read(i, posterior.OutsideValue(low, high, meanExcess, Up(b.Parts[i])))
}

// Side is how often a part of a class that is outside its tolerance lies above it, with its reason.
type Side struct {
	Class string
	Up    float64
	Why   string
}

// Sides are those of every class; how uneven the shares are is common practice.
var Sides = []Side{
	{"resistor", 0.5, "a film resistor's drift has no side; an old carbon one is 10 to 20 % high"},
	{"film", 0.5, "no side is known"},
	{"c0g", 0.5, "no side is known"},
	{"ceramic", 0.2, "class 2 falls with age, 1 to 7 % a decade of hours, and by up to 85 % at its rated voltage"},
	{"electrolytic", 0.1, "wear lowers it: its end of life is called at 20 to 50 % down, and seldom has one gained"},
	{"tantalum", 0.3, "between ceramic and aluminium"},
}

// Up is the share of a part's class.
func Up(p fit.Part) float64 {
	at := slices.IndexFunc(Sides, func(s Side) bool { return s.Class == class(p) })
	return Sides[at].Up
}

// shiftedOdds are those of part i's being out of its tolerance.
func (b *Board) shiftedOdds(i int) float64 {
	odds, _ := b.odds.of(shifted.Key, shifted.Odds, []string{b.Parts[i].Name})
	return odds
}

// orShifted is part i in tolerance or out of it, the latter with the odds of that.
func (b *Board) orShifted(i int) posterior.Density {
	in, out := b.Tolerance[i], b.shift(i)
	odds := b.shiftedOdds(i)
	if odds*out.Mass() < 1e-9*in.Mass() {
		return in
	}
	return in.Beside(out, odds)
}

// shifted: one part out of its tolerance, the others in theirs.
var shifted = Cause{
	Name:  "shifted",
	Key:   "shifted",
	Parts: 1,
	Odds: []Row{
		{"resistor", 0.02, 0.05, "a fixed resistor is the last to move"},
		{"film", 0.03, 0.08, "film capacitors keep their value: drift is 0.18 of their failures against 0.36 of a film resistor's, at twice its rate (MIL-HDBK-338B modes, from memory; 217F appendix A), and they take up damp"},
		{"c0g", 0.02, 0.05, "class 1 ceramic does not age: no more than a resistor"},
		{"ceramic", 0.10, 0.25, "class 2 ceramic falls with age, voltage and heat"},
		{"electrolytic", 0.20, 0.60, "electrolytics dry out"},
		{"tantalum", 0.03, 0.08, "as a film capacitor: drift is 0.11 of a solid one's failures, at no higher rate (MIL-HDBK-338B modes, from memory; 217F appendix A)"},
	},
	Shows: []Show{
		{"inspection", "", 0.05, "a scorched or cracked part (common practice)"},
		{"inspection", "electrolytic", 0.2, "it bulges or is wet (common practice)"},
		{"warm-up", "electrolytic", 0.3, "a dried one changes as it warms (common practice)"},
	},
	Words: Words{
		Kind:    "one part out of tolerance",
		Title:   "%s out of tolerance",
		Detail:  func(s *Said) string { return "about " + s.Value(0) + ", " + s.Deviation(0) },
		Curve:   "%s out of tolerance",
		Lot:     "the batch of %s is out of tolerance",
		Retune:  Cures,
		Repair:  "Fit a new %s as drawn",
		Form:    `one part: |ln(value/nominal)| = |ln(1±T)| + e, e exponential of mean 0.25, above or below by class (the list under this one)`,
		Meaning: "One part outside its tolerance: aged, overheated, damaged or out of specification. How far beyond the limit, as a logarithm, is exponential with mean 0.25. Either side is as likely, but for classes that wear lowers.",
		See:     []string{"class", "prior odds"},
	},
	Cases: func(b *Board) []Case {
		var out []Case
		for i, p := range b.Parts {
			if b.Circuit.Parts[i].Idle {
				continue
			}
			prior := b.InTolerance()
			prior[i] = b.shift(i)
			out = append(out, Case{Parts: []string{p.Name}, Shifts: []int{i}, Hypothesis: posterior.Hypothesis{Prior: prior}, Parameters: b.part(i)})
		}
		return out
	},
}
