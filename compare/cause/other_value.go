package cause

import (
	"offbeat/compare/series"
	"offbeat/fit/posterior"
)

// slipWeight is the weight of a decade slip against 1 for another E24 value of the nominal's decade.
const slipWeight = 3

// otherValue: another preferred value (IEC 60063 E24) of the nominal's decade that lies outside the tolerance
// was fitted, or one a decade off; the fitted part itself is in tolerance.
var otherValue = Cause{"other value", "other_value", func(b *Board) []Case {
	var out []Case
	for i, p := range b.Parts {
		if p.Class != "potentiometer" { // a wiper makes no preferred values
			out = append(out, b.others(i)...)
		}
	}
	return out
}}

// others lists the cases of part i, their odds the shares of that part's odds.
func (b *Board) others(i int) []Case {
	p := b.Parts[i]
	low, high := limits(p, p.Nominal)
	var out []Case
	var total float64
	add := func(value, weight float64) {
		prior := b.InTolerance()
		prior[i] = b.Read(i, posterior.UniformValue(limits(p, value)))
		out = append(out, Case{Parts: []string{p.Name}, Odds: weight, Hypothesis: posterior.Hypothesis{Prior: prior}, Parameter: b.part(i)})
		total += weight
	}
	const slack = 1e-9 // a value at the limit lies inside it
	for _, v := range series.InDecade(p.Nominal, "E24") {
		if v < low*(1-slack) || v > high*(1+slack) {
			add(v, 1)
		}
	}
	up, down := series.Slips(p.Nominal)
	add(up, slipWeight)
	add(down, slipWeight)
	for k := range out {
		out[k].Odds /= total
	}
	return out
}
