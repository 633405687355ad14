package cause

import "offbeat/fit/posterior"

// exchanged: the two resistors trade places, each keeping its own tolerance. Equal resistors can't.
var exchanged = Cause{"exchanged", "exchanged", func(b *Board) []Case {
	r := b.Circuit.Resistors()
	if len(r) != 2 || b.Parts[r[0]].Nominal == b.Parts[r[1]].Nominal {
		return nil
	}
	prior := b.InTolerance()
	first, second := b.Parts[r[0]], b.Parts[r[1]]
	prior[r[0]] = b.Read(r[0], posterior.UniformValue(limits(second, second.Nominal)))
	prior[r[1]] = b.Read(r[1], posterior.UniformValue(limits(first, first.Nominal)))
	return []Case{{Parts: []string{first.Name, second.Name}, Hypothesis: posterior.Hypothesis{Prior: prior}}}
}}
