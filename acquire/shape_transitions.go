package acquire

// transitionsShape: a row appears when any line changes, and its states hold until the next row.
var transitionsShape = shape{name: "transition list", fits: fitTransitions}

func fitTransitions(h *head, opt Options) (*plan, error) {
	p, err := h.logicTable(opt)
	if p == nil || !p.hasTime() {
		return nil, err
	}
	switch repeats, rows := h.repeats(p.layout.Time), h.last-h.first; {
	case repeats == 0:
		p.say("every row changes the state of some line: one row a transition")
	case repeats*2 < rows:
		p.say("states at uneven times, %d of %d rows repeating the one before: each holds until the next row", repeats, rows)
	default: // looked at now and then
		p.kind, p.surveyor.grid, p.uneven = Logic, grid{}, true
		p.note("the states were looked at, at uneven times: an edge is known to the gap between two looks")
		p.say("%d of %d rows repeat the state before: each tells of a look, not of a change", repeats, rows)
		return p, nil
	}
	return p, p.transitions()
}

// transitions makes the plan one of states at times of their own. Times that stand still while the state changes
// are too coarse to time it.
func (p *plan) transitions() error {
	p.kind = Transitions
	p.step = 0
	p.surveyor.grid = grid{}
	n := len(p.times)
	if n == 0 {
		return nil
	}
	p.surveyor.tick = tickOf(p.res, p.times[n-1])
	still := 0
	for i := 1; i < n; i++ {
		if p.times[i] == p.times[i-1] {
			still++
		}
	}
	if still*4 > n {
		return &Error{File: p.name, Line: p.first + 1, What: "the times repeat from row to row: they are too coarse to time a pulse", Expect: "a time of its own for each change", Do: "export with more digits", Err: ErrTime}
	}
	return nil
}
