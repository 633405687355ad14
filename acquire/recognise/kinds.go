package recognise

import (
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// transitions proposes states whose times hang on no grid; longest is a time that bounds how finely they can be counted, in s.
func (p *draft) transitions(longest float64) *proposal {
	q := p.propose(acquire.Transitions)
	q.Step, q.Grid, q.Tick = 0, grid.Grid{}, grid.TickOf(p.Res, longest)
	return q
}

// tooCoarse is the error for times that stand still while the state changes.
func (p *draft) tooCoarse() error {
	n := len(p.times)
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

// sampled proposes samples of states, or else of levels.
func (p *draft) sampled() *proposal {
	if p.logic() {
		return p.propose(acquire.Logic)
	}
	return p.analog()
}

// analog proposes samples of levels, and settles the unit of those that have none: whole numbers that span much, or that have no
// time beside them, are a converter's counts.
func (p *draft) analog() *proposal {
	q := p.propose(acquire.Samples)
	q.Channels = slices.Clone(p.Channels)
	for i := range q.Channels {
		switch c := &q.Channels[i]; {
		case c.Unit != "":
		case p.head.columns[p.Layout.Value[i]].integers && (p.head.timeColumn() < 0 || p.wide(i)):
			c.Unit = acquire.CountUnit
			q.note("channel %s holds whole numbers without a unit: taken as converter counts", c.Name)
		case p.head.columns[p.Layout.Value[i]].logic(): // states, sampled beside levels: no voltages that an output stands at
		case strangeUnit(c.Name) == "" && p.voltish(i):
			c.Unit = "V"
			q.note("the unit of channel %s is a guess: volts", c.Name)
		}
	}
	n := len(p.times)
	switch g := p.Grid; {
	case g.Step > 0 && n > 0 && g.Coarse(p.times[n-1]):
		q.say("the times are rounded more coarsely than their steps: the interval comes from all rows, or from what is stated")
	case g.Step > 0:
		q.say("the times are an even grid of %.6g s", g.Step)
	case p.HasTime():
		q.Uneven = grid.Rising(p.times) > 2
		q.say("the times are not even: each row keeps its own")
	}
	return q
}

// wide reports whether the head's levels of a chosen channel span more than whole volts would.
func (p *draft) wide(channel int) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range p.levels[channel] {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	return high-low > maxWholeVolts
}

// maxWholeVolts: whole numbers that span more are a converter's counts.
const maxWholeVolts = 30

// maxVolts bounds a level that is taken for volts where nothing names its unit: more is likely millivolts.
const maxVolts = 400

// voltish reports whether the head's levels of a chosen channel could be volts.
func (p *draft) voltish(channel int) bool {
	return !slices.ContainsFunc(p.levels[channel], func(v float64) bool { return v > maxVolts || v < -maxVolts })
}

// logicTable draws up a table whose chosen channels hold states; nil if it is none.
func (h *head) logicTable(opt acquire.Options) (*draft, error) {
	p, err := h.statesTable(opt)
	if p == nil || !p.logic() {
		return nil, err
	}
	return p, nil
}

// statesTable draws up a table whose first chosen channel holds states, whatever stands beside it; nil if it is none.
func (h *head) statesTable(opt acquire.Options) (*draft, error) {
	if h.timeColumn() < 0 || !h.someLogic() {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil || !p.head.columns[p.Layout.Value[0]].logic() {
		return nil, err
	}
	return p, nil
}

// noInterval is the error for samples without a time base.
func (h *head) noInterval(what string) error { return h.noIntervalAt(h.first+1, what) }

func (h *head) noIntervalAt(line int, what string) error {
	return &acquire.Error{File: h.name, Line: line, What: what, Expect: "a time column, or a sample interval or rate in the preamble", Do: "give --interval, such as --interval 2us", Err: acquire.ErrTime}
}
