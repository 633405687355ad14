package reconcile

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// sure is the probability from which one cause is called the finding (common practice).
const sure = 0.95

// sentence is the finding in plain words, one line; odd are impossible times and contradictions.
func (s *solved) sentence(f *compare.Finding, odd []string) string {
	if s.result.Status.Impossible {
		if len(odd) > 0 {
			return "The readings and the times contradict each other under every listed cause: " + odd[0] + "."
		}
		return "The readings and the times contradict each other under every listed cause: check the readings first."
	}
	top := f.Causes[0]
	var lead string
	switch f.Verdict.Result {
	case verdict.Pass:
		lead = "On target. "
	case verdict.Fail:
		lead = "Off target (" + strings.ReplaceAll(f.Verdict.Quantity, "_", " ") + "). "
	case verdict.Undecided:
		if len(f.Verdict.Each) == 0 {
			lead = "No verdict: every capture was taken under conditions of its own. "
			break
		}
		lead = "Too close to the target's limit to decide (" + strings.ReplaceAll(f.Verdict.Quantity, "_", " ") + "). "
	}
	likely := fmt.Sprintf("%s (%s)", top.Detail, percent(top.Probability))
	switch {
	case top.Probability >= sure && (top.Cause != cause.Unexplained || len(odd) == 0):
		return lead + upper(likely) + "."
	case top.Cause == cause.Unexplained && top.Probability >= 0.5 && len(odd) > 0:
		return lead + upper(likely) + ": " + odd[0] + "."
	case top.Probability >= 0.5 || len(f.Causes) == 1:
		return lead + "Most likely " + likely + "."
	}
	return lead + fmt.Sprintf("Not settled: %s, or %s (%s).", likely, f.Causes[1].Detail, percent(f.Causes[1].Probability))
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// percent writes a probability so that nothing rounds to certainty.
func percent(p float64) string {
	switch {
	case p > 0.9995:
		return "> 99.9 %"
	case p < 0.0005:
		return "< 0.1 %"
	case p > 0.995 || p < 0.1:
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return fmt.Sprintf("%.0f %%", 100*p)
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
		out = append(out, fmt.Sprintf("The times see only %s: resistance up and capacitance down by one factor leaves them alone, so the split rests on tolerances, odds and readings.", strings.Join(names, " and ")))
	}
	if text := familyText(f.Families); text != "" {
		out = append(out, text)
	}
	var rivals []string
	for _, k := range f.Causes[1:] {
		if k.Probability >= 0.02 && len(rivals) < 3 {
			rivals = append(rivals, fmt.Sprintf("%s (%s)", k.Detail, percent(k.Probability)))
		}
	}
	if len(rivals) > 0 {
		out = append(out, fmt.Sprintf("%s%s: %s.", compare.NotExcluded, f.Causes[0].Detail, strings.Join(rivals, "; ")))
	}
	if slow := s.capacitorMoved(f); slow {
		out = append(out, "A slow or fast instrument clock stretches both times alike and looks just like another capacitance; a second instrument tells them apart.")
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
