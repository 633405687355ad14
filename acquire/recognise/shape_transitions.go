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
