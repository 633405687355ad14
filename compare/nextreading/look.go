package nextreading

import (
	"slices"

	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/fit"
	"offbeat/fit/posterior"
)

// Seen stands in an advised command where the outcome of a look must be typed.
const Seen = "SEEN"

// look is a cheap look at a part, or at the board where part is empty.
type look struct {
	*cause.Look
	part string
}

// looks lists those that make sense and were not taken yet.
func (b *Bench) looks() (out []look) {
	if b.Board == nil {
		return nil
	}
	for i := range cause.Looks {
		l := &cause.Looks[i]
		for _, part := range l.Subjects(b.Circuit, b.Parts) {
			taken := slices.ContainsFunc(b.Board.Design.Looks, func(s fit.Look) bool { return s.Name == l.Name && s.Part == part })
			if !taken {
				out = append(out, look{l, part})
			}
		}
	}
	return out
}

// next is the look as a finding lists it.
func (l look) next(b *Bench) test {
	t := test{kind: Look, name: l.Text(l.part), part: l.part, effort: l.Minutes, caution: caution.Look, enter: `--look "` + l.Entered(l.part, Seen) + `"`}
	if l.Live {
		t.caution = caution.Live
	}
	if l.Minutes > 5 { // the board must be watched
		t.effort = b.Minutes(l.Minutes)
	}
	return t
}

// informationOf is the mutual information, in bits, between the explanation and the outcome of a look: exact, since both
// are few.
func (b *Bench) informationOf(l look, r *posterior.Result, group []int, groups int) float64 {
	found, sound := make([]float64, groups), make([]float64, groups)
	chance := make([]float64, len(b.Cases))
	for i := range b.Cases {
		chance[i] = b.Board.Finds(l.Look, l.part, &b.Cases[i])
	}
	total := 0.0
	for i := range r.Samples {
		s := &r.Samples[i]
		p := chance[s.Hypothesis]
		found[group[s.Hypothesis]] += s.Weight * p
		sound[group[s.Hypothesis]] += s.Weight * (1 - p)
		total += s.Weight * p
	}
	all := make([]float64, groups)
	for g := range all {
		all[g] = found[g] + sound[g]
	}
	return max(entropy(all)-total*entropy(found)-(1-total)*entropy(sound), 0)
}
