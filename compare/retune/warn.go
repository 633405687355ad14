package retune

import (
	"offbeat/compare"
)

// cautions of a change that would only hide a cause.
var hides = map[string]string{
	"leakage":     "the likeliest cause is a leaking capacitor, and a leak changes with heat and damp: replace it first, then tune",
	"thresholds":  "the likeliest cause is at the control pin: see to it first, since other parts would only hide it until it changes again",
	"discharge":   "the likeliest cause is the timer's discharge switch: change the timer first, since other parts would only hide it until it wears further",
	"clock":       "the likeliest cause is the instrument's clock: take the times with a second instrument before any part is changed",
	"unexplained": "no listed cause explains the times, so no change can be promised anything: take the next reading first",
}

// serious is the probability from which a cause is worth the warning.
const serious = 0.2

// Warnings say where a change of parts would hide a cause rather than cure it.
func Warnings(f *compare.Finding) []string {
	out := []string{}
	for _, c := range f.Causes {
		if text := hides[c.Cause]; text != "" && c.Probability >= serious {
			out = append(out, text)
		}
	}
	return out
}
