package noise

import (
	"math"

	"offbeat/fit/cell"
)

// steadyFit is the answer if the train is steady, that is if its wander and jitter are small against a cell.
type steadyFit struct {
	still, walk inCells // without a walk and with one; the prior share of what they cover is in the logs
	steps       excess  // of the walk
	beyond      found   // a walk that is too far for those
	cycles      float64
	fit         *cell.Fit // without a walk; nil if none explains the cells
}

const (
	sureCell   = 0.9   // cells narrower than this (samples lie on the slope) are left to the linear fit
	creep      = 0.2   // cells from one edge to the next, above which a few edges already lie all over a cell
	creeps     = 2.0   // cells that a train moves by against the samples over the record, below which many edges have the same error
	offGrid    = 0.25  // edges further than this from a common grid, in cells, are not on one
	matters    = 100.0 // times less than the variance of the mean period without a walk, that one gives it: less is as good as none
	steadyWalk = 0.3   // cells of wander over the record below which no edge need show it
	mostWalk   = 0.3   // and of the random step of one period, beyond which its cells tell no more of an edge than noise of their width
)

// creeping tells a train of which every first, second or third period meets the samples alike throughout the record, or up to every ninth, if that
// does so a dozen times.
func (c *chain) creeping() bool {
	for every := 1.0; every <= max(3, min(c.cycles/12, 9)); every++ {
		p := every * (c.h0 + c.l0)
		if step := math.Abs(p - math.Round(p)); step*every < creep && step*c.cycles < creeps {
			return true
		}
	}
	return false
}

// edges lays the chain out for its cells, and gives the lower side of each edge's, less nominal; ok is false if it is not one unbroken run
// on a grid with sharp edges. A sample that happens to lie on such an edge moves the crossing within its cell, by nothing that is known of
// the edge: the cell alone counts.
func (c *chain) edges(fl *floors) (e cell.Edges, lower []float64, ok bool) {
	if !c.single || min(fl.width[0], fl.width[1]) < sureCell {
		return e, nil, false
	}
	for i, x := range c.x {
		side := math.Round(x - c.x[0])
		if i > 0 && c.start[i] || !fl.places && math.Abs(x-c.x[0]-side) > offGrid {
			return e, nil, false
		}
		from := c.x[0]
		if fl.places {
			seen := x
			if c.seen != nil {
				seen = c.seen[i]
			}
			side, from = math.Floor(seen)+x-seen, 0
		}
		s := kind(c.rise[i])
		e.Index[s], e.Side[s] = append(e.Index[s], c.index[i]), append(e.Side[s], side)
		lower = append(lower, side+from-x+c.y[i])
	}
	return e, lower, len(e.Index[0]) >= 2 && len(e.Index[1]) >= 2
}

// hide adds what drift, and lines of so many turns a cycle, may hide in the cells.
func (s *steadyFit) hide(lines []float64) {
	if s.fit == nil {
		return
	}
	bare := s.fit.Row
	s.fit.Hide(lines)
	s.still.row = s.fit.Row
	s.walk.row = s.walk.row.Plus(s.fit.Row).Plus(bare.Scale(-1))
}

// steadyWhite is the log of the largest white variance of a steady train.
var steadyWhite = 2 * math.Log(cell.Largest)

// covers tells whether noise of this size counts as steady, or as a walk through the cells.
func (s *steadyFit) covers(e excess) bool {
	return e.high+e.low < mostWalk*mostWalk && e.white < cell.Largest*cell.Largest
}
