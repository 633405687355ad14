package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// transitionsShape: a row appears when any line changes, and its states hold until the next row.
var transitionsShape = shape{name: "transition list", fits: fitTransitions}

func fitTransitions(h *head, opt acquire.Options) (*draft, error) {
	p, err := h.logicTable(opt)
	if p == nil || !p.HasTime() {
		return nil, err
	}
	switch repeats, rows := h.repeating(p.Layout.Time), h.last-h.first; {
	case repeats == 0:
		p.say("every row changes the state of some line: one row a transition")
	case repeats*2 < rows:
		p.say("states at uneven times, %d of %d rows repeating the one before: each holds until the next row", repeats, rows)
	default: // looked at now and then
		p.Kind, p.Grid, p.Uneven = acquire.Logic, grid.Grid{}, true
		p.note("the states were looked at, at uneven times: an edge is known to the gap between two looks")
		p.say("%d of %d rows repeat the state before: each tells of a look, not of a change", repeats, rows)
		return p, nil
	}
	return p, p.transitions()
}

// transitions makes the plan one of states at times of their own. Times that stand still while the state changes
// are too coarse to time it.
func (p *draft) transitions() error {
	p.Kind = acquire.Transitions
	p.Step = 0
	p.Grid = grid.Grid{}
	n := len(p.times)
	if n == 0 {
		return nil
	}
	p.Tick = grid.TickOf(p.Res, p.times[n-1])
	still := 0
	for i := 1; i < n; i++ {
		if p.times[i] == p.times[i-1] {
			still++
		}
	}
	if still*4 > n {
		return &acquire.Error{File: p.Name, Line: p.First + 1, What: "the times repeat from row to row: they are too coarse to time a pulse", Expect: "a time of its own for each change", Do: "export with more digits", Err: acquire.ErrTime}
	}
	return nil
}
