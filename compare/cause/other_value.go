package cause

import (
	"offbeat/compare/series"
	"offbeat/fit/posterior"
)

// slipWeight is the weight of a decade slip against 1 for another E24 value of the nominal's decade.
const slipWeight = 3

// otherValue: another preferred value (IEC 60063 E24) of the nominal's decade that lies outside the tolerance
// was fitted, or one a decade off; the fitted part itself is in tolerance.
var otherValue = Cause{
	Name:  "other value",
	Key:   "other_value",
	Parts: 1,
	Odds:  []Row{{"", 0.05, 0.002, "a wrong value is a builder's slip: a board that was right has none unless repaired"}},
	Shows: []Show{
		{"marking", "", 0.95, "the part says what it is; a few are marked wrong or past reading (common practice)"},
	},
	Words: Words{
		Kind:    "another value fitted",
		Title:   "%s of another value",
		Detail:  func(s *Said) string { return s.fitted(0) },
		Curve:   "other values",
		Lot:     "another preferred value is fitted as %s",
		Retune:  Cures,
		Repair:  "Fit %s as drawn in the place of the other value",
		Form:    "another E24 value of the nominal's decade outside its tolerance, weight 1, or a decade slip, weight 3; in tolerance itself",
		Meaning: "Another preferred value was fitted: one of the E24 values of the decade, or, of three times the odds each, ten times too much or too little. The fitted part itself is in tolerance.",
		Source:  "IEC 60063, IEC 60062",
		Also:    []string{"decade slip", "wrong value"},
		See:     []string{"preferred value"},
	},
	Cases: func(b *Board) []Case {
		var out []Case
		for i, p := range b.Parts {
			if p.Class != "potentiometer" && !b.Circuit.Parts[i].Idle { // a wiper makes no preferred values
				out = append(out, b.others(i)...)
			}
		}
		return out
	},
}

// others lists the cases of part i, their odds the shares of that part's odds.
func (b *Board) others(i int) []Case {
	p := b.Parts[i]
	low, high := limits(p, p.Nominal)
	var out []Case
	var total float64
	add := func(value, weight float64) {
		prior := b.Loose()
		prior[i] = b.Read(i, posterior.UniformValue(limits(p, value)))
		out = append(out, Case{Parts: []string{p.Name}, Fitted: []int{i}, Share: weight, Hypothesis: posterior.Hypothesis{Prior: prior}, Parameters: b.part(i)})
		total += weight
	}
	const slack = 1e-9 // a value at the limit lies inside it
	for _, v := range series.E24.Decade(p.Nominal) {
		if v < low*(1-slack) || v > high*(1+slack) {
			add(v, 1)
		}
	}
	up, down := series.Slips(p.Nominal)
	add(up, slipWeight)
	add(down, slipWeight)
	for k := range out {
		out[k].Share /= total
	}
	return out
}
