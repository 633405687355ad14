package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit/posterior"
)

// causes merges the cases of one explanation and sorts the explanations, the likeliest first.
func (s *solved) causes() []compare.Cause {
	at := map[string]int{}
	var out []compare.Cause
	var members [][]int
	for i, c := range s.cases {
		key := cause.Key(c.Cause, c.Parts)
		k, ok := at[key]
		if !ok {
			k = len(out)
			at[key] = k
			parts := append([]string{}, c.Parts...)
			out = append(out, compare.Cause{Cause: c.Cause, Parts: parts})
			members = append(members, nil)
		}
		out[k].Probability += s.result.Outcomes[i].Probability
		out[k].PriorOdds += c.Odds
		members[k] = append(members[k], i)
	}
	for k := range out {
		s.describe(&out[k], members[k])
	}
	slices.SortStableFunc(out, func(a, b compare.Cause) int { return -cmp.Compare(a.Probability, b.Probability) })
	return out
}

// describe fills in a cause's value and its words.
func (s *solved) describe(c *compare.Cause, members []int) {
	p := s.cases[members[0]].Parameter
	if p != nil {
		x, ok := s.parameter(func(q *posterior.Sample) (float64, bool) {
			return p.Of(&q.Values), slices.Contains(members, q.Hypothesis)
		})
		if ok {
			c.Value, c.Unit = &x, p.Unit
		}
	}
	c.Detail = s.detail(c, p)
	if c.Cause == "thresholds" && len(members) > 1 && c.Value != nil {
		s.apart(c, members)
	}
	if s.changed != nil {
		s.sinceDetail(c, members)
	}
}

// sinceDetail says what the cause means against a baseline.
func (s *solved) sinceDetail(c *compare.Cause, members []int) {
	switch c.Cause {
	case "nothing":
		c.Detail = "nothing has moved since the baseline"
	case "shifted", "other value", "exchanged":
		var words []string
		for _, name := range c.Parts {
			i, _ := s.board.Circuit.Slot(name)
			x, ok := s.parameter(func(q *posterior.Sample) (float64, bool) {
				return s.changed.factor(q, int(i)), slices.Contains(members, q.Hypothesis)
			})
			if !ok {
				return
			}
			by := fmt.Sprintf("by %+.2g %%", 100*(x-1))
			if x > 1.995 || x < 0.5 {
				by = fmt.Sprintf("to %.3g times what it was", x)
			}
			words = append(words, fmt.Sprintf("%s has moved %s since the baseline", name, by))
			if c.Value != nil {
				words[0] += ", now about " + Format(*c.Value, c.Unit)
			}
		}
		c.Detail = strings.Join(words, ", ")
	}
}

// Format writes a number of the JSON's units for a reader.
func Format(x float64, unit string) string {
	switch unit {
	case "ohm":
		return quantity.Format(x, quantity.Ohm)
	case "F":
		return quantity.Format(x, quantity.Farad)
	case "s":
		return quantity.Format(x, quantity.Second)
	case "Hz":
		return quantity.Format(x, quantity.Hertz)
	}
	return fmt.Sprintf("%.4g", x)
}

// deviation writes a value against its nominal: "18 % above its nominal 100 nF".
func deviation(x, nominal float64, unit string) string {
	r := x/nominal - 1
	side := "above"
	if r < 0 {
		side = "below"
	}
	if r > 2 || r < -0.95 || math.Abs(r) < 1e-4 {
		return fmt.Sprintf("%.3g times its nominal %s", x/nominal, Format(nominal, unit))
	}
	return fmt.Sprintf("%.2g %% %s its nominal %s", 100*math.Abs(r), side, Format(nominal, unit))
}

// detail says what the cause means for this board.
func (s *solved) detail(c *compare.Cause, p *cause.Parameter) string {
	names := strings.Join(c.Parts, " and ")
	value := func() string {
		if c.Value == nil {
			return ""
		}
		return Format(*c.Value, c.Unit)
	}()
	switch {
	case c.Cause == "nothing":
		return "every part in tolerance"
	case c.Cause == "unexplained":
		return "none of the listed causes fits the times"
	case c.Cause == "exchanged":
		return names + " fitted in each other's place"
	case c.Cause == "shifted" && len(c.Parts) == 2:
		return names + " both out of tolerance"
	case c.Value == nil:
		return "cannot make these times"
	case c.Cause == "shifted":
		return fmt.Sprintf("%s about %s, %s", names, value, deviation(*c.Value, p.Nominal, c.Unit))
	case c.Cause == "other value":
		return fmt.Sprintf("%s about %s: another preferred value fitted, %s", names, value, deviation(*c.Value, p.Nominal, c.Unit))
	case c.Cause == "leakage":
		return fmt.Sprintf("about %s across %s", value, names)
	case c.Cause == "thresholds":
		return fmt.Sprintf("control pin at about %.3g of the supply instead of %.3g", *c.Value, p.Nominal)
	case c.Cause == "discharge":
		return fmt.Sprintf("discharge pin pulled low through about %s", value)
	case c.Cause == "clock":
		return fmt.Sprintf("instrument's times read %.3g %% %s", 100*math.Abs(math.Expm1(*c.Value)), map[bool]string{true: "long", false: "short"}[*c.Value > 0])
	}
	return ""
}
