package cause

import "offbeat/fit/posterior"

// exchanged: the two resistors trade places, each keeping its own tolerance. Where both are alike in value and
// tolerance that changes nothing, and the cause is left out.
var exchanged = Cause{"exchanged", "exchanged", func(b *Board) []Case {
	r := b.Circuit.Resistors()
	if len(r) != 2 {
		return nil
	}
	first, second := b.Parts[r[0]], b.Parts[r[1]]
	if first.Nominal == second.Nominal && first.Minus == second.Minus && first.Plus == second.Plus {
		return nil
	}
	prior := b.InTolerance()
	prior[r[0]] = b.Read(r[0], posterior.UniformValue(limits(second, second.Nominal)))
	prior[r[1]] = b.Read(r[1], posterior.UniformValue(limits(first, first.Nominal)))
	return []Case{{Parts: []string{first.Name, second.Name}, Hypothesis: posterior.Hypothesis{Prior: prior}}}
}}
