package reconcile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// confounded says what cannot be told apart from what.
func (s *solved) confounded(f *compare.Finding) []string {
	out := []string{}
	c := s.Board.Circuit
	if groups, _ := c.Groups(); len(groups) > 0 {
		var names, near []string
		for _, g := range groups {
			if g.Near == nil {
				names = append(names, g.Name)
			} else {
				names = append(names, strings.ReplaceAll(g.Name, "_", " "))
				near = append(near, nearWords(&g, s.Board.Parts))
			}
		}
		text := fmt.Sprintf(compare.TimesSee+"%s: resistance up and capacitance down by one factor leaves them alone, so the split rests on tolerances, odds and readings.", strings.Join(names, " and "))
		if slices.Contains(c.Terms, circuit.Ladder) { // the divider inside the timer is a resistance that nothing scales
			text = fmt.Sprintf(compare.TimesSee+"%s, so the split rests on tolerances, odds and readings.", strings.Join(names, " and "))
		}
		out = append(out, strings.Join(append([]string{text}, near...), " "))
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
		text := compare.ClockAlike + "stretches both times alike and looks just like another capacitance; a second instrument tells them apart."
		if resistors := slices.DeleteFunc(slices.Clone(s.Board.Parts), func(p fit.Part) bool { return p.Kind != fit.Resistor }); len(resistors) > 1 {
			text += " So do resistors that are all off by one factor, of a wrong reel or old carbon ones; an ohmmeter on one of them tells."
		}
		out = append(out, text)
	}
	return out
}

// nearWords says how a half-cycle goes with the parts near their nominals, where no product or ratio is exact.
func nearWords(g *circuit.Group, parts []fit.Part) string {
	var with, rest []string
	for _, p := range parts {
		switch k := g.Near[p.Name]; {
		case math.Abs(k) < 5e-3:
		case math.Abs(k-1) < 5e-3:
			with = append(with, p.Name)
		case k > 0:
			rest = append(rest, fmt.Sprintf("1 %% more %s adds %.2g %%", p.Name, k))
		default:
			rest = append(rest, fmt.Sprintf("1 %% more %s takes %.2g %% off", p.Name, -k))
		}
	}
	name := strings.ReplaceAll(g.Name, "_", " ")
	text := "Near these values the " + name + " goes"
	if len(with) > 0 {
		text += " as " + strings.Join(with, " and ")
		if len(rest) > 0 {
			text += ", and "
		}
	} else {
		text += " so: "
	}
	return text + strings.Join(rest, ", ") + "."
}

// capacitorMoved says whether a capacitor of another value than its tolerance allows is a serious candidate.
func (s *solved) capacitorMoved(f *compare.Finding) bool {
	likely := map[string]bool{}
	for _, k := range f.Causes {
		likely[cause.Key(k.Cause, k.Parts)] = k.Probability >= 0.02
	}
	for i := range s.Cases {
		k := &s.Cases[i]
		moved := slices.Concat(k.Shifts, k.Fitted)
		if len(moved) == 1 && s.Board.Parts[moved[0]].Kind == fit.Capacitor && likely[cause.Key(k.Cause, k.Parts)] {
			return true
		}
	}
	return false
}

// warnings collects what the user should know before believing the numbers.
func (s *solved) warnings(d *fit.Design, obs []question.Observation, notes []string, p *predict.Result) []string {
	out := append([]string{}, d.Notes...)
	for i := range obs {
		out = append(out, obs[i].Measurement.Notes...)
	}
	out = append(out, notes...)
	out = append(out, p.Warnings...)
	for i, o := range s.result.Outcomes {
		if o.StandardError > 0.005 {
			out = append(out, fmt.Sprintf("the probability of %q is computed only to ±%.2g", s.Cases[i].Cause, 2*o.StandardError))
		}
	}
	if d.Family == fit.Bipolar && slices.Contains(s.Board.Circuit.Terms, circuit.OutputDrop) {
		out = append(out, "a bipolar timer's output stops 1 … 1.7 V short of the supply: this circuit wants a rail-to-rail output, and its high time hangs on that shortfall")
	}
	return compare.Unique(out)
}

// nonempty are the texts that say something.
func nonempty(texts ...string) []string {
	return slices.DeleteFunc(texts, func(t string) bool { return t == "" })
}
