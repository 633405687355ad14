package read

import (
	"math"

	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// surveyor looks over times while they are in the cache: on a worker, so that the caller need not.
type surveyor struct {
	grid   grid.Grid
	tick   float64 // s, unit of the greatest common step; 0: not wanted
	states bool    // levels are 0 or 1, and whatever else is none
}

// lookOf is what a plan wants to know of its rows.
func lookOf(p *recognise.Plan) surveyor { return surveyor{p.Grid, p.Tick, p.States} }

// clean puts NoLevel for each level that is no state.
func (s surveyor) clean(b *batch) {
	if !s.states {
		return
	}
	for _, v := range b.value {
		for i, x := range v[:b.n] {
			if x != 0 && x != 1 && x == x {
				v[i], b.marked = scan.NoLevel, true
			}
		}
	}
}

func (s surveyor) survey(b *batch) survey {
	n := len(b.time)
	if n == 0 {
		return survey{}
	}
	if s.grid.Step > 0 && evenBatch(s.grid, b) {
		return survey{even: true, rising: true, strict: true}
	}
	b.fill()
	v := survey{strict: grid.Ascends(b.time)}
	v.rising = v.strict || grid.Rising(b.time) == n
	if s.tick > 0 {
		v.common = grid.CommonStep(b.time, 0, s.tick)
	}
	return v
}

// evenBatch reports whether a batch's times are even throughout. Within a run one step tells for all.
func evenBatch(g grid.Grid, b *batch) bool {
	t, from := b.time, 0
	even := func(to int) bool { return g.Even(t[from], t[from+1:to+1]) == to-from }
	if b.rows != nil {
		for _, r := range b.rows.Runs {
			last := r.To - 1
			if !even(r.From) || math.Abs(r.Step()-g.Step) > g.SlackAt(t[r.From], t[last]) || t[last] < t[r.From] {
				return false
			}
			from = last
		}
	}
	return even(len(t) - 1)
}
