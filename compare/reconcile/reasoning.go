package reconcile

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
)

// reasoning says in one short paragraph why this cause and not that one, with the numbers it rests on.
func (s *solved) reasoning(f *compare.Finding) string {
	if s.result.Status.Impossible || len(f.Causes) == 0 {
		return ""
	}
	var out []string
	if s.Changed == nil {
		out = append(out, s.timesReason(f)...)
	}
	out = append(out, s.rivalReason(f)...)
	return strings.Join(out, " ")
}

// timesReason sets the measured period and duty factor against what parts in tolerance make, and says what that leaves.
func (s *solved) timesReason(f *compare.Finding) []string {
	name, m, p := "period", f.Measured.Period, f.Predicted.Period
	if s.Board.Circuit.OnePulse {
		name, m, p = "pulse", f.Measured.High, f.Predicted.High
	}
	if m == nil || p == nil {
		return nil
	}
	low, high := sound(p)
	off := quantity.Side(m.Value, low, high)
	text := fmt.Sprintf("%s %s is %s what most sound boards make (%s)", name, quantity.Format(m.Value, quantity.Second), off, quantity.Span(low, high, quantity.Second))
	d, e := f.Measured.Duty, f.Predicted.Duty
	if d == nil || e == nil {
		return []string{text + "."}
	}
	low, high = sound(e)
	at := quantity.Side(d.Value, low, high)
	text += fmt.Sprintf(", duty factor %s %s (%s)", quantity.Format(d.Value, quantity.Number), at, quantity.Span(low, high, quantity.Number))
	switch {
	case at != "inside":
		text += ": high and low have not changed alike."
	case off != "inside":
		text += ": high and low have changed alike."
	default:
		text += "."
	}
	out := []string{text}
	if sets := s.Board.Circuit.Sets(&s.Problem.Base); sets != "" {
		out = append(out, sets+".")
	}
	return out
}

// sound are the limits of a sound board: its parts anywhere in tolerance, the timer typical, or 95 % of boards with
// the timer's own spread, whichever reaches farther.
func sound(p *compare.Predicted) (low, high float64) {
	return min(p.Low, p.MonteCarlo[0]), max(p.High, p.MonteCarlo[1])
}

// rivalReason weighs the likeliest explanation against the next one: by how much the odds beforehand and the times
// and readings each speak for it. The share of each is its probability, odds times fit.
func (s *solved) rivalReason(f *compare.Finding) []string {
	top := f.Causes[0]
	if len(f.Causes) < 2 || f.Causes[1].Probability <= 0 || top.Probability <= 0 {
		return []string{compare.Sentence(top.Detail) + " is the only cause that can make these times."}
	}
	rival := f.Causes[1]
	odds := top.PriorOdds / rival.PriorOdds
	fit := top.Probability / rival.Probability / odds
	names := [2]string{s.short(&top), s.short(&rival)}
	if top.Cause == rival.Cause && len(top.Parts) == 1 && len(rival.Parts) == 1 {
		names = [2]string{top.Parts[0], rival.Parts[0]}
	}
	text := fmt.Sprintf("%s against %s: prior odds %s, fit %s.", compare.Sentence(names[0]), names[1], toOne(odds), toOne(fit))
	out := []string{text}
	if rest := s.ruledOut(f); rest != "" {
		out = append(out, rest)
	}
	return out
}

// short is a cause without its values; since a baseline it is what has moved.
func (s *solved) short(c *compare.Cause) string {
	if s.Changed != nil {
		return c.Detail
	}
	if c.Cause == cause.Unexplained { // whose title is a sentence
		return cause.Unexplained
	}
	return cause.Title(c.Cause, c.Parts)
}

// toOne writes odds: "3 : 1", "1 : 12".
func toOne(odds float64) string {
	if odds < 1 {
		return "1 : " + ratio(1/odds)
	}
	return ratio(odds) + " : 1"
}

// ratio writes a factor with two digits, or by its power of ten where nobody counts any more.
func ratio(x float64) string {
	if x > 1e4 {
		return "more than 10 000"
	}
	if x >= 100 {
		last := math.Pow(10, math.Floor(math.Log10(x))-1)
		return fmt.Sprintf("%.0f", math.Round(x/last)*last)
	}
	return fmt.Sprintf("%.2g", x)
}

// mostExcluded bounds how many kinds are named.
const mostExcluded = 3

// impossibleNow is the probability below which a cause counts as ruled out.
const impossibleNow = 1e-4

// ruledOut names the kinds of causes that the times exclude; a kind of one explanation goes by its title.
func (s *solved) ruledOut(f *compare.Finding) string {
	type kind struct {
		left  float64
		count int
		title string
	}
	kinds := map[string]*kind{}
	var order []string
	for _, c := range f.Causes {
		name := cause.Of(c.Cause, c.Parts).Kind
		k := kinds[name]
		if k == nil {
			k = &kind{title: cause.Title(c.Cause, c.Parts)}
			kinds[name] = k
			order = append(order, name)
		}
		k.left, k.count = k.left+c.Probability, k.count+1
	}
	for i, o := range s.result.Outcomes { // for all that the numbers tell
		if k := kinds[cause.Of(s.Cases[i].Cause, s.Cases[i].Parts).Kind]; k != nil {
			k.left += 2 * o.StandardError
		}
	}
	var out []string
	for _, name := range order {
		k := kinds[name]
		switch {
		case k.left >= impossibleNow || name == cause.Of(cause.Unexplained, nil).Kind:
		case k.count == 1:
			out = append(out, k.title)
		default:
			out = append(out, name)
		}
	}
	if len(out) == 0 {
		return ""
	}
	if n := len(out) - mostExcluded; n > 1 {
		out = append(out[:mostExcluded], fmt.Sprintf("and %d others", n))
	}
	return "Excluded: " + strings.Join(out, ", ") + "."
}
