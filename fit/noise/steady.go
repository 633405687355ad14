package noise

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
)

// steadyFit is the answer if the train is steady, that is if its wander and jitter are small against a cell.
type steadyFit struct {
	high, period float64
	row          budget.Row
	walkRow      budget.Row // of random-walk noise too small to break the fit, if there is any
	still, walk  float64    // log of the evidence without a walk and with one, the prior share of what it covers included
	cycles       float64
	fit          *cell.Fit
}

const (
	sureCell   = 0.9  // cells narrower than this (samples lie on the slope) are left to the linear fit
	creep      = 0.2  // cells from one edge to the next, above which a few edges already lie all over a cell
	creeps     = 2.0  // cells that a train moves by against the samples over the record, below which many edges have the same error
	offGrid    = 0.25 // edges further than this from a common grid, in cells, are not on one
	steadyWalk = 0.3  // cells of wander over the record below which the train counts as steady
)

// creeping tells a train of which every first, second or third period meets the samples alike throughout the record.
func (c *chain) creeping() bool {
	for every := 1.0; every < 4; every++ {
		p := every * (c.h0 + c.l0)
		if step := math.Abs(p - math.Round(p)); step*every < creep && step*c.cycles < creeps {
			return true
		}
	}
	return false
}

// edges lays the chain out for its cells; ok is false if it is not one unbroken run on a grid with sharp edges. A sample that happens
// to lie on such an edge moves the crossing within its cell, by nothing that is known of the edge: the cell alone counts.
func (c *chain) edges(fl *floors) (e cell.Edges, ok bool) {
	if !c.single || min(fl.width[0], fl.width[1]) < sureCell {
		return e, false
	}
	for i, x := range c.x {
		side := math.Round(x - c.x[0])
		if i > 0 && c.start[i] || !fl.places && math.Abs(x-c.x[0]-side) > offGrid {
			return e, false
		}
		if fl.places {
			seen := x
			if c.seen != nil {
				seen = c.seen[i]
			}
			side = math.Floor(seen) + x - seen
		}
		s := kind(c.rise[i])
		e.Index[s], e.Side[s] = append(e.Index[s], c.index[i]), append(e.Side[s], side)
	}
	return e, len(e.Index[0]) >= 2 && len(e.Index[1]) >= 2
}

// steady fits the chain by cells; nil if that does not apply.
func (c *chain) steady(fl *floors) *steadyFit {
	e, ok := c.edges(fl)
	if !ok {
		return nil
	}
	cycles := max(c.cycles, 1)
	f := cell.Solve(&e, c.h0+c.l0, cycles)
	if f == nil {
		return nil
	}
	r := &steadyFit{high: f.High, period: f.Period, row: f.Row, cycles: cycles, fit: f}
	lo, hi := c.prior(fl)
	limit := math.Log(r.limit())
	least := min(c.leastWalk(fl, f.White*f.White), limit-1)
	walk, gain := f.Wander(least, limit)
	r.walkRow = budget.Row{High: walk / 2 / r.cycles, Both: 0.1 * walk / r.cycles, Low: walk / 2 / r.cycles}
	still, some := steadyLogs(floats.LogSumExp([]float64{c.stillLog(), c.walkLog() + math.Log(part(limit, least, hi))}), r.cycles)
	log := f.Log + math.Log(part(steadyWhite, lo, hi))
	if fl.places { // where an edge lies within its cell says nothing of the train, but the other models foretell it, with this density
		for s, side := range e.Side {
			log -= float64(len(side)) * math.Log(fl.width[s])
		}
	}
	r.still, r.walk = log+still, log+some+gain
	return r
}

// hide adds what drift, and lines of so many turns a cycle, may hide in the cells.
func (s *steadyFit) hide(lines []float64) {
	s.fit.Hide(lines)
	s.row = s.fit.Row
}

// steadyLogs splits the log of the prior probability of a steady train into no walk and one too small to leave its cells.
// The odds are the fourth root of the number of cycles at most, where the filter's are the square root: a train in which nothing
// shows but its cells says nothing against a walk, and errs alike either way then (by simulation: at 100 cycles the error
// of the period is 0.65 of what is stated without a walk, 1.6 times it with one; with the square root 0.8 and 2.2, with
// even odds 0.54 and 1.35).
func steadyLogs(both, cycles float64) (still, walk float64) {
	odds := stillOdds(cycles, 0.25)
	return both - math.Log1p(1/odds), both - math.Log1p(odds)
}

// steadyWhite is the log of the largest white variance of a steady train.
var steadyWhite = 2 * math.Log(cell.Largest)

// covers tells whether noise of this size counts as steady.
func (s *steadyFit) covers(e excess) bool {
	return e.high+e.low < s.limit() && e.white < cell.Largest*cell.Largest
}

// limit is the variance of a walk's step below which the train counts as steady.
func (s *steadyFit) limit() float64 { return steadyWalk * steadyWalk / s.cycles }
