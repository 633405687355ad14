package noise

import (
	"math/rand/v2"
	"testing"

	"offbeat/fit/budget"
)

// A train that is all but surely steady: the odds of the rest are too small to count beside 1, and their rounded sum may
// exceed it by a hair. No variance turns negative by that.
func TestBlendLeavesNoLessThanNothing(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	over := 0
	for range 1000 {
		s := &steadyFit{still: inCells{log: rnd.NormFloat64()}, walk: inCells{log: rnd.NormFloat64()}, cycles: 10}
		o := newOdds([]way{{found: found{log: -50}}, {found: found{log: -60}, walks: true}}, s, true, true)
		if o.steadyStill+o.steadyWalk > 1 {
			over++
		}
		a := answer{rows: []budget.Row{{Name: walkName, High: 1, Low: 1}}, white: 1}
		b := a.blend(s, &o)
		if b.white < 0 || b.rows[0].High < 0 {
			t.Fatalf("odds %+v leave %+v", o, b)
		}
	}
	if over == 0 {
		t.Error("no odds of these exceed 1: the test says nothing")
	}
}
