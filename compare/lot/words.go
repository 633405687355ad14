package lot

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/compare/lot/acceptance"
	"offbeat/fit"
)

// sentence is the answer in words: the decision, what moved, what stands out.
func (r *Report) sentence(d *fit.Design) string {
	a := r.Acceptance
	var out []string
	if r.Headline != nil {
		out = append(out, r.Headline.words())
	}
	if len(r.Batches) > 0 {
		out = append(out, r.batchWords(d))
	}
	decision := map[acceptance.Result]string{acceptance.Accept: "The lot is accepted", acceptance.Reject: "The lot is not accepted", acceptance.Undecided: "No decision on the lot"}[a.Result]
	out = append(out, fmt.Sprintf("%s: %s.", decision, a.Reason))
	for i := range r.Trends {
		out = append(out, r.Trends[i].words())
	}
	if s := r.batch(); s != "" && len(r.Batches) == 0 && (r.Headline == nil || r.Headline.Part == "") {
		out = append(out, s)
	}
	if n := len(r.Outliers); n > 0 {
		shown := r.Outliers[:min(n, 5)]
		more := ""
		if n > len(shown) {
			more = fmt.Sprintf(" and %d more", n-len(shown))
		}
		out = append(out, fmt.Sprintf("%s out: %s%s.", map[bool]string{true: "One board stands", false: quantity.Plural(n, "board") + " stand"}[n == 1], strings.Join(shown, ", "), more))
	}
	if n := len(r.Silent); n > 0 {
		out = append(out, fmt.Sprintf("%s no pulses, which counts as nonconforming.", map[bool]string{true: "One board shows", false: quantity.Plural(n, "board") + " show"}[n == 1]))
	}
	if n := len(r.Failed); n > 0 {
		out = append(out, fmt.Sprintf("%s could not be judged.", quantity.Plural(n, "board")))
	}
	return strings.Join(out, " ")
}

// batch says what moved for the whole lot.
func (r *Report) batch() string {
	if len(r.Causes) == 0 {
		return ""
	}
	c := r.Causes[0]
	if c.Probability < likely {
		return fmt.Sprintf("What is common to the lot is open; the likeliest is %s (%s).", cause.InLot(c.Cause, c.Parts), quantity.Probability(c.Probability))
	}
	if c.Cause == cause.Nothing {
		return fmt.Sprintf("No part moved for the whole lot (%s).", quantity.Probability(c.Probability))
	}
	return fmt.Sprintf("For the whole lot, %s (%s).", cause.InLot(c.Cause, c.Parts)+r.moves(c.Parts), quantity.Probability(c.Probability))
}

// moves adds by how much a shifted part's batch is off.
func (r *Report) moves(parts []string) string {
	if len(parts) != 1 {
		return ""
	}
	for _, p := range r.Parts {
		if p.Name == parts[0] {
			return ", by " + quantity.Change(math.Expm1(p.Shift.Value))
		}
	}
	return ""
}

// warn adds what a reader of the report must know.
func (r *Report) warn(d *fit.Design) {
	for _, d := range r.Duplicates {
		r.Warnings = append(r.Warnings, d.Detail)
	}
	if n := r.Acceptance.Open; n > 0 && len(d.Targets) > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s without a clear verdict: counted both ways, so that none is accepted unseen", quantity.Plural(n, "board")))
	}
	if a := r.Acceptance; a.SampleSize > a.Plan.Size && a.Plan.Size > 0 && a.Method == "attributes" && len(r.Lots) == 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d boards were judged, the plan asks for %d: all are counted, which is stricter than the plan", a.SampleSize, a.Plan.Size))
	}
	for _, c := range r.Charts {
		if n := len(c.Signals); n > 0 && !c.Steady {
			s := c.Signals[0]
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s, chart of %s: not in control, %s; first at %s: %s (rule %d)", c.Quantity, c.Chart, quantity.Plural(n, "signal"), s.At, s.Name, s.Rule))
		}
	}
}
