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

// oddsDigits are those of prior odds that are printed.
const oddsDigits = 12

// untold is the probability of a cause below which nobody is told of it, of one of many boards.
const untold = 0.001

// causes merges the cases of one explanation and sorts the explanations, the likeliest first.
func (s *solved) causes(ask asked) []compare.Cause {
	of, first := explanations(s.Cases)
	out, members := make([]compare.Cause, len(first)), make([][]int, len(first))
	for i, c := range s.Cases {
		k := of[i]
		out[k].Cause, out[k].Parts = c.Cause, append([]string{}, c.Parts...)
		out[k].Probability += s.result.Outcomes[i].Probability
		out[k].PriorOdds += c.Odds
		members[k] = append(members[k], i)
	}
	for k := range out {
		out[k].PriorOdds = quantity.Rounded(out[k].PriorOdds, oddsDigits) // of sums such as 0.01 + 0.01
		if ask.shared == nil || out[k].Probability >= untold {
			s.describe(&out[k], members[k])
		}
	}
	slices.SortStableFunc(out, func(a, b compare.Cause) int { return -cmp.Compare(a.Probability, b.Probability) })
	return out
}

// describe fills in a cause's value and its words.
func (s *solved) describe(c *compare.Cause, members []int) {
	said, possible := s.said(c.Parts, members)
	if possible && len(said.Values) > 0 {
		c.Value, c.Unit = &said.Values[0], said.Parameters[0].Unit
	}
	c.Detail = cause.Sentence(c.Cause, said, possible)
	if why := s.stops(said, members); why != "" {
		c.Detail += ": " + why
	}
	if s.Changed != nil {
		s.sinceDetail(c, members)
		c.Brief = c.Detail
		return
	}
	said.Brief = true
	c.Brief = cause.Sentence(c.Cause, said, possible)
}

// said is what the samples say of an explanation's parameters; possible is false where no sample is of it.
func (s *solved) said(parts []string, members []int) (said *cause.Said, possible bool) {
	said = &cause.Said{Parts: parts, Parameters: s.Cases[members[0]].Parameters}
	possible = true
	for k := range said.Parameters {
		x, ok := s.parameter(members, func(q *posterior.Sample) float64 { return s.Cases[q.Hypothesis].Parameters[k].Of(q.Values) })
		possible = possible && ok
		said.Values = append(said.Values, x)
	}
	return said, possible
}

// stops says of an output that stood still why the board of an explanation does not run, with the number that shows it: of
// the sample nearest to what is said of it. It is empty where that board runs.
func (s *solved) stops(said *cause.Said, members []int) string {
	if len(s.Board.Design.Stills) == 0 || s.Cases[members[0]].Unexplained {
		return ""
	}
	var near *posterior.Sample
	least := math.Inf(1)
	for i := range s.result.Samples {
		q := &s.result.Samples[i]
		if !slices.Contains(members, q.Hypothesis) {
			continue
		}
		off := 0.0
		if len(said.Values) > 0 {
			off = math.Abs(math.Log(said.Parameters[0].Of(q.Values) / said.Values[0]))
		}
		if near == nil || off < least {
			near, least = q, off
		}
	}
	if near == nil {
		return ""
	}
	c := s.Cases[near.Hypothesis].Circuit
	c = cmp.Or(c, s.Board.Circuit)
	return c.Stuck(near.Values)
}

// sinceDetail says what the cause means against a baseline.
func (s *solved) sinceDetail(c *compare.Cause, members []int) {
	if c.Cause == cause.Nothing {
		c.Detail = "nothing has moved since the baseline"
	}
	first := &s.Cases[members[0]]
	var words []string
	for _, i := range slices.Concat(first.Shifts, first.Fitted) {
		x, ok := s.parameter(members, func(q *posterior.Sample) float64 { return s.Changed.Factor(q, i) })
		if !ok {
			return
		}
		by := "by " + quantity.Change(x-1)
		if x > 1.995 || x < 0.5 {
			by = fmt.Sprintf("to %.3g times what it was", x)
		}
		words = append(words, fmt.Sprintf("%s has moved %s since the baseline", s.Board.Parts[i].Name, by))
		if c.Value != nil {
			words[0] += ", now about " + cause.Format(*c.Value, c.Unit)
		}
	}
	if len(words) > 0 {
		c.Detail = strings.Join(words, ", ")
	}
}
