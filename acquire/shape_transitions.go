package acquire

import "offbeat/acquire/internal/scan"

// transitionsShape: a row appears when any line changes, and its states hold until the next row.
var transitionsShape = shape{name: "transition list", fits: fitTransitions}

func fitTransitions(h *head, opt Options) (*plan, error) {
	p, err := h.logicTable(opt)
	if p == nil || !p.hasTime() {
		return nil, err
	}
	p.counterUnit(h, opt)
	if repeats := h.repeats(p.layout.Time); repeats == 0 {
		p.say("every row changes the state of some line: one row a transition")
	} else {
		p.say("states at uneven times, %d of %d rows repeating the one before: each holds until the next row", repeats, h.last-h.first)
	}
	return p, p.transitions()
}

// fewSeconds is the mean step, in s, below which whole seconds of an epoch are believed.
const fewSeconds = 100

// counterUnit makes another guess at the unit of times that nothing names and that are whole numbers: no bench's table
// is in whole seconds, but a board's counter is in microseconds.
func (p *plan) counterUnit(h *head, opt Options) {
	if opt.TimeUnit != "" || !p.weakUnit || p.layout.TimeShift != 0 || h.names >= 0 || h.units >= 0 || !h.columns[p.layout.Time].integers {
		return
	}
	if n := len(p.times); p.layout.TimeForm == scan.EpochTime && (n == 0 || p.times[n-1]-p.times[0] < fewSeconds*float64(n-1)) {
		return // a log with a stamp now and then
	}
	p.layout.TimeShift, p.layout.TimeForm, p.layout.Reference = scan.TimeUnits["us"], scan.PlainTime, 0
	for i, n := range p.notes {
		if n == guessedSeconds {
			p.notes[i] = "the unit of the time column is a guess: microseconds, as a board's counter has them"
		}
	}
	p.say("the times are whole numbers without a name: microseconds, a guess")
	p.readTimes()
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
