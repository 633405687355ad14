package lot

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/acceptance"
	"offbeat/fit"
)

// changeByChance is the share of boards steady but for jitter whose capture of some 15 cycles is said to change: 13 of 8,030.
const changeByChance = 0.0016

// What is said of boards whose times no part makes.
const (
	slipOf  = "has times a thousand (or a million) times as long or as short as the design's: the unit of its capture's time column, or a prefix in the design's values, is the likely reason"
	slipsOf = "have times a thousand (or a million) times as long or as short as the design's: the unit of their captures' time column, or a prefix in the design's values, is the likely reason"
)

// sentence is the answer in words: the decision, what moved, what stands out.
func (r *Report) sentence(d *fit.Design) string {
	a := r.Acceptance
	var out []string
	out = append(out, named(r.slipped, slipOf, slipsOf)...)
	if r.Headline != nil {
		out = append(out, r.Headline.words())
	}
	if len(r.Batches) > 0 {
		out = append(out, r.batchWords(d))
		if r.besides != "" {
			out = append(out, r.besides)
		}
		for g, b := range r.Batches {
			if len(b.Causes) > 0 && b.Causes[0].Cause != cause.Nothing {
				out = append(out, common(ordinal(g)+map[bool]string{true: " batch"}[g == 0], b.Causes, b.Parts))
			}
		}
	}
	if p := r.scattering(d); p != nil {
		out = append(out, fmt.Sprintf("The boards scatter by more than parts in tolerance do, as if %s did by (%s) %% (standard deviation): several batches, or parts of another tolerance.", p.Name, quantity.Bare(100*p.Spread.Value, 100*p.Spread.Uncertainty)))
	}
	decision := map[acceptance.Result]string{acceptance.Accept: "The lot is accepted", acceptance.Reject: "The lot is not accepted", acceptance.Undecided: "No decision on the lot"}[a.Result]
	out = append(out, fmt.Sprintf("%s: %s.", decision, a.Reason))
	if len(r.Batches) == 0 && r.Headline == nil { // which count them
		out = append(out, named(r.failing, "fails", "fail")...)
	}
	for i := range r.Trends {
		out = append(out, r.Trends[i].words())
		if k := slices.IndexFunc(r.Effects, func(x MeasuredEffect) bool {
			return x.Factor == "temperature" && x.Significant && !x.Within && x.Quantity == r.Trends[i].Quantity
		}); k >= 0 {
			out = append(out, fmt.Sprintf("Their temperature may be why (%s a kelvin): some of the first and last once more at one temperature would tell.", ppm(r.Effects[k].Bias)))
		}
	}
	out = append(out, r.readOtherwise()...)
	if s := common("the whole lot", r.Causes, r.Parts); s != "" && len(r.Batches) == 0 && (r.Headline == nil || r.Headline.Part == "") {
		out = append(out, s)
	}
	out = append(out, named(r.Outliers, "stands out", "stand out")...)
	var changing []string
	for _, b := range r.Changing {
		changing = append(changing, b.Board)
	}
	out = append(out, named(changing, "changes inside its capture, which is never passed", "change inside their captures, which is never passed")...)
	steady := r.Boards.Boards - r.Boards.Failed - r.Boards.Silent
	if of := float64(steady) * changeByChance; len(changing) > 0 && of >= 0.5 {
		out = append(out, fmt.Sprintf("Of %d steady boards about %.0f are said to by chance: capture these again.", steady, of))
	}
	if n := len(r.Silent); n > 0 {
		out = append(out, fmt.Sprintf("%s no pulses, which counts as nonconforming.", map[bool]string{true: "One board shows", false: quantity.Plural(n, "board") + " show"}[n == 1]))
	}
	if n := len(r.Failed); n > 0 {
		out = append(out, fmt.Sprintf("%s could not be judged.", quantity.Plural(n, "board")))
	}
	return strings.Join(out, " ")
}

// named says what some boards do, and names the first; nothing where there is none.
func named(boards []string, one, several string) []string {
	switch n := len(boards); {
	case n == 0:
		return nil
	case n == 1:
		return []string{fmt.Sprintf("One board %s: %s.", one, boards[0])}
	case n > 5:
		return []string{fmt.Sprintf("%d boards %s: %s and %d more.", n, several, strings.Join(boards[:5], ", "), n-5)}
	default:
		return []string{fmt.Sprintf("%d boards %s: %s.", n, several, strings.Join(boards, ", "))}
	}
}

// common says what moved for all of some boards; empty where that is not known.
func common(boards string, causes []compare.Cause, parts []Part) string {
	if len(causes) == 0 {
		return ""
	}
	c := causes[0]
	if c.Probability < likely {
		return fmt.Sprintf("What is common to %s is open; the likeliest is %s (%s).", boards, cause.InLot(c.Cause, c.Parts), quantity.Probability(c.Probability))
	}
	if c.Cause == cause.Nothing {
		return fmt.Sprintf("No part moved for %s (%s).", boards, quantity.Probability(c.Probability))
	}
	by := ""
	if i := slices.IndexFunc(parts, func(p Part) bool { return len(c.Parts) == 1 && p.Name == c.Parts[0] }); i >= 0 {
		by = ", by " + quantity.Change(math.Expm1(parts[i].Shift.Value))
	}
	return fmt.Sprintf("For %s, %s (%s).", boards, cause.InLot(c.Cause, c.Parts)+by, quantity.Probability(c.Probability))
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
