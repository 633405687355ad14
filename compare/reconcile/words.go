package reconcile

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// confounded says what cannot be told apart from what.
func (s *solved) confounded(f *compare.Finding) []string {
	out := []string{}
	c := s.board.Circuit
	if len(c.Groups) > 0 {
		names := make([]string, len(c.Groups))
		for i, g := range c.Groups {
			names[i] = g.Name
		}
		out = append(out, fmt.Sprintf(compare.TimesSee+"%s: resistance up and capacitance down by one factor leaves them alone, so the split rests on tolerances, odds and readings.", strings.Join(names, " and ")))
	}
	if text := familyText(f.Families); text != "" {
		out = append(out, text)
	}
	var rivals []string
	for _, k := range f.Causes[1:] {
		if k.Probability >= 0.02 && len(rivals) < 3 {
			rivals = append(rivals, fmt.Sprintf("%s (%s)", k.Detail, quantity.Probability(k.Probability)))
		}
	}
	if len(rivals) > 0 {
		out = append(out, fmt.Sprintf("%s%s: %s.", compare.NotExcluded, f.Causes[0].Detail, strings.Join(rivals, "; ")))
	}
	if slow := s.capacitorMoved(f); slow {
		out = append(out, compare.ClockAlike+"stretches both times alike and looks just like another capacitance; a second instrument tells them apart.")
	}
	return out
}

// capacitorMoved says whether a capacitor of another value than its tolerance allows is a serious candidate.
func (s *solved) capacitorMoved(f *compare.Finding) bool {
	likely := map[string]bool{}
	for _, k := range f.Causes {
		likely[cause.Key(k.Cause, k.Parts)] = k.Probability >= 0.02
	}
	for i := range s.cases {
		k := &s.cases[i]
		moved := slices.Concat(k.Shifts, k.Fitted)
		if len(moved) == 1 && s.board.Parts[moved[0]].Kind == fit.Capacitor && likely[cause.Key(k.Cause, k.Parts)] {
			return true
		}
	}
	return false
}

// warnings collects what the user should know before believing the numbers.
func (s *solved) warnings(d *fit.Design, obs []Observation, notes []string, p *predict.Result) []string {
	out := append([]string{}, d.Notes...)
	for i := range obs {
		out = append(out, obs[i].Measurement.Notes...)
	}
	out = append(out, notes...)
	out = append(out, p.Warnings...)
	for i, o := range s.result.Outcomes {
		if o.StandardError > 0.005 {
			out = append(out, fmt.Sprintf("the probability of %q is computed only to ±%.2g", s.cases[i].Cause, 2*o.StandardError))
		}
	}
	if d.Family == fit.Bipolar && uses(s.board.Circuit, circuit.OutputDrop) {
		out = append(out, "a bipolar timer's output stops 1 … 1.7 V short of the supply: this circuit wants a rail-to-rail output, and its high time hangs on that shortfall")
	}
	return dedupe(out)
}

func uses(c *circuit.Circuit, slot circuit.Slot) bool {
	for _, s := range c.Terms {
		if s == slot {
			return true
		}
	}
	return false
}

func dedupe(in []string) []string {
	seen := map[string]bool{}
	out := []string{}
	for _, s := range in {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}
