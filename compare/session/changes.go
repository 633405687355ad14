package session

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/stability"
	"offbeat/fit/train"
)

// changes are where the period changed, looked for among the last cycles as they come.
type changes struct {
	cycles []train.Cycle // the last ones
	cell   float64       // s, that their edges are rounded to
	grown  bool          // some came since they were looked at
	known  []fit.Change  // before them
	recent []fit.Change  // among them
}

const (
	mostCycles  = 900     // that are kept when they have been looked at
	leastCycles = 600     // that stay when there are more
	settled     = 20      // after a change, before it is known for good
	unlooked    = 1 << 13 // that are kept where nobody looks
)

// take takes the cycles that have come, with edges rounded to cell, in s.
func (c *changes) take(more []train.Cycle, cell float64) {
	c.cycles, c.cell, c.grown = append(c.cycles, more...), cell, c.grown || len(more) > 0
	c.cycles = c.cycles[max(len(c.cycles)-unlooked, 0):]
}

// all are the changes so far, and those of stretches of some seconds that are none of them.
func (c *changes) all(runs *compare.Stability) []fit.Change {
	all := slices.Concat(c.known, c.recent)
	if runs == nil {
		return all
	}
	apart := 2 * runs.Drift.Range / float64(len(runs.Course.Blocks)-1)
	for _, j := range runs.Changes {
		if !slices.ContainsFunc(all, func(k fit.Change) bool { return math.Abs(k.Time-j.Time) < apart }) {
			all = append(all, j)
		}
	}
	slices.SortFunc(all, func(a, b fit.Change) int { return cmp.Compare(a.Time, b.Time) })
	return all
}

// found takes the changes among the cycles. Old cycles make room, and changes among them stay known.
func (c *changes) found(jumps []fit.Change) {
	if n := len(c.cycles); n > mostCycles {
		cut := c.cycles[n-leastCycles].Rise
		for len(jumps) > 0 && jumps[0].Time < c.cycles[n-leastCycles+settled].Rise {
			cut = max(cut, jumps[0].Time)
			c.known, jumps = append(c.known, jumps[0]), jumps[1:]
		}
		c.cycles = slices.DeleteFunc(slices.Clone(c.cycles), func(c train.Cycle) bool { return c.Rise < cut })
	}
	c.recent = jumps
}

// odd is by how much a pulse that is none of the train differs from those beside it; oddReach are those on either side.
const (
	odd      = 0.25
	oddReach = 2
)

// whole are the cycles without pulses that do not belong to the train.
func whole(cycles []train.Cycle) (out []train.Cycle) {
	apart := false
	for i, c := range cycles {
		var near []float64
		for _, o := range cycles[max(i-oddReach, 0):min(i+oddReach+1, len(cycles))] {
			near = append(near, o.Fall-o.Rise)
		}
		usual := stability.Median(near)
		c.Start = c.Start || apart
		if apart = math.Abs(c.Fall-c.Rise-usual) > odd*usual; !apart {
			out = append(out, c)
		}
	}
	return out
}
