package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// transitionsShape: a row appears when any line changes, and its states hold until the next row.
var transitionsShape = shape{name: "transition list", fits: fitTransitions}

func fitTransitions(h *head, opt acquire.Options) (*proposal, error) {
	p, err := h.statesTable(opt)
	if p == nil || !p.HasTime() {
		return nil, err
	}
	repeats, rows := h.repeating(p.Layout.Time), h.last-h.first
	if !p.logic() && (p.Grid.Step > 0 || repeats*2 >= rows) { // samples, of which one channel knows two levels only
		return nil, nil
	}
	if repeats > 0 && repeats*2 >= rows { // looked at now and then
		q := p.propose(acquire.Logic)
		q.Grid, q.Uneven = grid.Grid{}, true
		q.note("the states were looked at, at uneven times: an edge is known to the gap between two looks")
		q.say("%d of %d rows repeat the state before: each tells of a look, not of a change", repeats, rows)
		return q, nil
	}
	if err := p.tooCoarse(); err != nil {
		return nil, err
	}
	last := 0.0
	if n := len(p.times); n > 0 {
		last = p.times[n-1]
	}
	q := p.transitions(last)
	if !p.logic() {
		q.States = 1
	}
	if repeats == 0 {
		q.say("every row changes the state of some line: one row a transition")
	} else {
		q.say("states at uneven times, %d of %d rows repeating the one before: each holds until the next row", repeats, rows)
	}
	return q, nil
}
