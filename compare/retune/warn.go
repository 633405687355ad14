package retune

import (
	"offbeat/compare"
	"offbeat/compare/cause"
)

// serious is the probability from which a cause is worth the warning.
const serious = 0.2

// Warnings say where a change of parts would hide a cause rather than cure it.
func Warnings(f *compare.Finding) []string {
	out := []string{}
	for _, c := range f.Causes {
		if text := cause.Hides(c.Cause, c.Parts); text != "" && c.Probability >= serious {
			out = append(out, text)
		}
	}
	return out
}
