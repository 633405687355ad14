package retune

import (
	"strings"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
)

// serious is the probability from which a cause is worth the warning.
const serious = 0.2

// Warnings say where a change of parts would hide a cause rather than cure it, and what no part can help; f may be nil, where
// no board was measured.
func Warnings(d *fit.Design, f *compare.Finding) []string {
	out := []string{}
	if text := Beyond(d); text != "" {
		out = append(out, text)
	}
	if f == nil {
		return out
	}
	for i, c := range f.Causes {
		if text := cause.Hides(c.Cause, c.Parts); text != "" && c.Probability >= serious {
			if i > 0 {
				text = strings.Replace(text, "the likeliest cause", "a cause that is not excluded", 1)
			}
			out = append(out, text)
		}
	}
	return out
}
