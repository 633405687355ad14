package reconcile

import (
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
)

// sameBoard is how far, relative, the times of one board may lie apart from capture to capture for warmth and supply (common practice);
// chance is how many standard uncertainties they may.
const (
	sameBoard = 0.02
	chance    = 5
)

// apart sorts the captures of one setting into groups of one board that stays as it is, where there are several: what a board shows in
// one it does not in the next, and their mean is nothing that it does. The others are of other settings. No group: the captures of each
// setting go together.
func apart(obs []question.Observation) (groups [][]question.Observation, others []question.Observation) {
	for i := range obs {
		var own []question.Observation
		others = nil
		for k := range obs {
			if question.Together(&obs[k], &obs[i]) {
				own = append(own, obs[k])
			} else {
				others = append(others, obs[k])
			}
		}
		for groups = nil; len(own) > 0; {
			group := own[:1:1]
			own = own[1:]
			for k := 0; k < len(group); k++ { // those that go with one that is in already
				own = slices.DeleteFunc(slices.Clone(own), func(o question.Observation) bool {
					goes := oneBoard(group[k].Measurement, o.Measurement)
					if goes {
						group = append(group, o)
					}
					return goes
				})
			}
			groups = append(groups, group)
		}
		if len(groups) > 1 {
			return groups, others
		}
	}
	return nil, obs
}

// oneBoard says whether two captures may be of one board that stays as it is.
func oneBoard(a, b *fit.Measurement) bool {
	near := func(a, b fit.Estimate) bool {
		if !(a.Value > 0) || !(b.Value > 0) {
			return true // a monostable's rest is none of the board's times
		}
		d, u := math.Abs(math.Log(a.Value/b.Value)), math.Hypot(a.Uncertainty/a.Value, b.Uncertainty/b.Value)
		return !(d > sameBoard && d > chance*u)
	}
	return near(a.High, b.High) && near(a.Low, b.Low)
}

// disagreeing solves each group of captures by itself, with those of other settings, and leads with how they differ. What is told of parts
// and causes is of the group with the most cycles. Such a board is never within its target.
func disagreeing(d *fit.Design, groups [][]question.Observation, others []question.Observation, ask asked) (*compare.Finding, *Evidence, error) {
	longest := 0
	names, cycles := make([][]string, len(groups)), make([]int, len(groups))
	for i, g := range groups {
		for _, o := range g {
			names[i] = append(names[i], o.Measurement.Source)
			cycles[i] += o.Measurement.High.Count
		}
		if cycles[i] > cycles[longest] {
			longest = i
		}
	}
	parts := make([][]question.Observation, len(groups))
	for i, g := range groups {
		parts[i] = slices.Concat(g, others)
	}
	findings, evidence, err := alone(d, parts, longest, ask)
	if err != nil {
		return nil, nil, err
	}
	f := findings[longest]
	text := f.Finding
	var shown []string
	for i, s := range findings {
		f.Stretches[i].Captures, f.Stretches[i].Cycles = names[i], cycles[i]
		shown = append(shown, mainTime(s)+" in "+strings.Join(names[i], ", "))
	}
	v := worstOf(findings, f.Verdict)
	verdictText := ""
	switch v.Result {
	case verdict.Fail:
		verdictText = "Off target in one of them at least."
	case verdict.Undecided:
		verdictText = "Not passed, for that alone."
	}
	f.Answer = nonempty("The captures disagree: "+strings.Join(shown, ", ")+". The board drifts, a contact is bad, or one of them is of another board.",
		verdictText, "By "+strings.Join(names[longest], ", ")+": "+compare.Within(text))
	changes(f, v)
	return f, evidence, nil
}

// mainTime is the frequency, or the high time where there is none, with its digits.
func mainTime(f *compare.Finding) string {
	if m := f.Measured.Frequency; m != nil {
		return "frequency " + quantity.Uncertain(m.Value, m.Uncertainty, quantity.Hertz)
	}
	return "high time " + quantity.Uncertain(f.Measured.High.Value, f.Measured.High.Uncertainty, quantity.Second)
}
