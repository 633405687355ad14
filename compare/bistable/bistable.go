// Package bistable judges a set-reset latch by its truth table. There is no value to compare: the latch has done in
// every row what it should, or it has not, or not every row was tried.
package bistable

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/caution"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/latch"
)

// Check is the latch's record in one capture.
type Check struct {
	Source string
	Result *latch.Result
}

// Quantity is what the verdict is about.
const Quantity = "truth table"

// Judge adds up the checks of one board and decides: fail where the output was once not as the truth table has it,
// undecided where no fault was seen but the output never set or never reset, else pass.
func Judge(d *fit.Design, checks []Check) (*compare.Finding, error) {
	if len(checks) == 0 {
		return nil, errors.New("nothing checked; expected at least one logic capture of output, set and reset")
	}
	l := &compare.Latch{Inputs: d.Inputs}
	for _, c := range checks {
		add(l, c)
	}
	for _, f := range faults {
		if f.count(l) > 0 {
			l.Advice = append(l.Advice, compare.Advice{Look: f.look, Caution: caution.Live})
		}
	}
	f := &compare.Finding{Schema: 1, Title: d.Title, Latch: l, Warnings: append([]string{}, d.Notes...)}
	f.Verdict = decide(l)
	f.Finding = sentence(l, f.Verdict.Result)
	if l.UnknownRows > 0 {
		f.Warnings = append(f.Warnings, quantity.Plural(int(l.UnknownRows), "row")+" had a channel that was neither high nor low; the state before was taken to last")
	}
	return f, nil
}

// add counts one capture in.
func add(l *compare.Latch, c Check) {
	r := c.Result
	if l.Table == nil {
		l.Table = make([]latch.Row, len(r.Table))
	}
	for i, row := range r.Table {
		row.Time, row.Wrong = row.Time+l.Table[i].Time, row.Wrong+l.Table[i].Wrong
		l.Table[i] = row
	}
	shortest(l, r)
	l.Sets, l.Resets = l.Sets+r.Sets, l.Resets+r.Resets
	l.MissedSets, l.FalseSets = l.MissedSets+r.MissedSets, l.FalseSets+r.FalseSets
	l.FailedResets, l.FalseResets = l.FailedResets+r.FailedResets, l.FalseResets+r.FalseResets
	l.SetBounces, l.ResetBounces = l.SetBounces+r.Bounces[0], l.ResetBounces+r.Bounces[1]
	l.Bounces = l.SetBounces + l.ResetBounces
	l.Settling = max(l.Settling, r.Settle)
	l.UnknownRows += r.Unknown
	for _, e := range r.Events {
		l.Events = append(l.Events, compare.LatchEvent{Source: c.Source, Time: e.Time, What: e.What})
	}
}

// shortest keeps the shortest press that set the output. Each of its edges lies anywhere in one step of the record, so
// its length has a triangular distribution of half-width one step (JCGM 100 4.3.9).
func shortest(l *compare.Latch, r *latch.Result) {
	if r.Shortest == 0 {
		return
	}
	count := r.Sets
	if l.Shortest != nil {
		count += l.Shortest.Count
	}
	if l.Shortest == nil || r.Shortest < l.Shortest.Value {
		l.Shortest = &compare.Measured{Value: r.Shortest, Uncertainty: r.Resolution / math.Sqrt(6)}
	}
	l.Shortest.Count = count
}

// fault is one kind of fault of a latch: how often it was met, in words, and where to look (common practice).
type fault struct {
	count     func(l *compare.Latch) int
	one, many string
	look      string
}

// faults in the order of the truth table.
var faults = []fault{
	{func(l *compare.Latch) int { return l.MissedSets }, "a set press left the output low", "%d set presses left the output low",
		"the set input on an analogue channel: a press that is too short, or stays above a third of the supply, does not set; a reset input held low wins over it"},
	{func(l *compare.Latch) int { return l.FalseSets }, "the output rose once without a set", "the output rose %d times without a set",
		"the set input and the supply on analogue channels at these instants: an open or long lead picks up pulses that a logic channel misses; a pull-up close to the pin keeps them out"},
	{func(l *compare.Latch) int { return l.FailedResets }, "a reset did not hold the output low", "%d resets did not hold the output low",
		"the reset pin's voltage while it is held: it must lie below the timer's reset voltage (its data sheet), at the pin and against the timer's own ground"},
	{func(l *compare.Latch) int { return l.FalseResets }, "the output fell once without a reset", "the output fell %d times without a reset",
		"the reset input, the threshold input and the supply on analogue channels at these instants: a load that switches makes the supply dip; a capacitor at the timer's supply pins and a pull-up at reset keep it out"},
}

func (f fault) words(n int) string {
	if n == 1 {
		return f.one
	}
	return fmt.Sprintf(f.many, n)
}

func decide(l *compare.Latch) compare.Verdict {
	v := compare.Verdict{Result: verdict.Pass, Quantity: Quantity,
		Rule: fmt.Sprintf("pass when the output follows its truth table throughout, within %s of each change of the inputs, and was seen to set and to reset; reset overrides set",
			quantity.Format(l.Settling, quantity.Second))}
	faulty := slices.ContainsFunc(faults, func(f fault) bool { return f.count(l) > 0 })
	switch {
	case faulty:
		v.Result = verdict.Fail
	case l.Sets == 0 || l.Resets == 0:
		v.Result = verdict.Undecided
	}
	return v
}

// sentence is the finding in plain words.
func sentence(l *compare.Latch, result string) string {
	switch result {
	case verdict.Pass:
		return fmt.Sprintf("The latch keeps its truth table: %s, %s, no fault.", quantity.Plural(l.Sets, "set"), quantity.Plural(l.Resets, "reset"))
	case verdict.Undecided:
		return fmt.Sprintf("No fault seen, but the output never %s: the truth table is not tried out.", never(l))
	}
	var all []string
	for _, f := range faults {
		if n := f.count(l); n > 0 {
			all = append(all, f.words(n))
		}
	}
	return "The latch breaks its truth table: " + strings.Join(all, "; ") + "."
}

func never(l *compare.Latch) string {
	switch {
	case l.Sets > 0:
		return "reset"
	case l.Resets > 0:
		return "set"
	}
	return "set and never reset"
}
