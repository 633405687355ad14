package cause

import "offbeat/fit/posterior"

// meanExcess is the mean of the exponential by which a shifted part's ln value lies outside its tolerance.
const meanExcess = 0.25

// shift is the prior of part i when it has moved: |ln(value/nominal)| = |ln(1±T)| + e, e exponential, either
// sign equally likely.
func (b *Board) shift(i int) posterior.Density {
	low, high := limits(b.Parts[i], b.Parts[i].Nominal)
	return b.Read(i, posterior.OutsideValue(low, high, meanExcess))
}

// shifted: one part out of its tolerance, the others in theirs.
var shifted = Cause{"shifted", "shifted", func(b *Board) []Case {
	var out []Case
	for i, p := range b.Parts {
		prior := b.InTolerance()
		prior[i] = b.shift(i)
		out = append(out, Case{Parts: []string{p.Name}, Hypothesis: posterior.Hypothesis{Prior: prior}, Parameter: b.part(i)})
	}
	return out
}}
