package reconcile

import (
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/caution"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
)

// moving says how the period moves in captures in which it does not jump, and which pulses they lack.
func moving(obs []question.Observation) (all []string) {
	for _, o := range obs {
		if m := o.Measurement.Moves; m.By != 0 && !m.Slight {
			of, p := o.Measurement.Subject(), o.Measurement.Period().Value
			if o.Measurement.Shots {
				p = o.Measurement.High.Value
			}
			text := compare.Sentence(m.Text(of)) + "."
			if !m.Wanders {
				text += fmt.Sprintf(" It goes from %s to %s.", withDigits(p*(1-m.By/2), p*(1+m.By/2)), withDigits(p*(1+m.By/2), p*(1-m.By/2)))
			}
			all = append(all, text)
		}
		for _, text := range o.Measurement.Moves.Lacks() {
			all = append(all, compare.Sentence(text)+".")
		}
	}
	return slices.Compact(all)
}

// unpassed is a verdict on times that change inside a capture.
func unpassed(v compare.Verdict) compare.Verdict {
	if v.Result == verdict.Pass {
		v.Result = verdict.Undecided
	}
	if v.Result != verdict.None {
		v.Rule += "; a board whose times change, inside a capture or from one to the next, is never passed"
	}
	return v
}

// settle comes first where the period moves without a jump.
var settle = compare.Next{Reading: "Let the board run until its period stands still, with no draught on it and a steady supply, and capture again: what moves on is no warming up",
	Kind: nextreading.Check, Effort: 10, Enter: "NEW.csv"}

// provoke comes before what the longest stretch alone would need.
var provoke = compare.Next{Reading: "Capture again while you tap the board with an insulated stick, then while you warm one part at a time: what brings the change is loose or fails with heat",
	Kind: nextreading.Check, Effort: 5, Caution: caution.Warm, Enter: "NEW.csv"}

// seeUnits comes first where the times are a power of a thousand of the design's.
var seeUnits = compare.Next{Reading: "See that the capture's unit of time and the prefixes of the design's values are right", Kind: nextreading.Check, Effort: 1}

// withDigits is a period with the digits that tell it from the other.
func withDigits(x, other float64) string {
	return quantity.Uncertain(x, math.Abs(other-x)/20+1e-9*x, quantity.Second)
}
