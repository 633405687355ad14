package recognise

import (
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

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

// analog makes the plan one of samples, and settles the unit of levels that have none.
func (p *draft) analog() {
	p.Kind = acquire.Samples
	for i, c := range p.Channels {
		if c.Unit == "" && p.head.columns[p.Layout.Value[i]].integers && p.wide(i) {
			p.Channels[i].Unit = acquire.CountUnit
			p.note("channel %s holds whole numbers without a unit: taken as converter counts", c.Name)
		}
		if c = p.Channels[i]; c.Unit == "" && strangeUnit(c.Name) == "" && p.voltish(i) {
			p.Channels[i].Unit = "V"
			p.note("the unit of channel %s is a guess: volts", c.Name)
		}
	}
	n := len(p.times)
	switch g := p.Grid; {
	case g.Step > 0 && n > 0 && g.Coarse(p.times[n-1]):
		p.say("the times are rounded more coarsely than their steps: the interval comes from all rows, or from what is stated")
	case g.Step > 0:
		p.say("the times are an even grid of %.6g s", g.Step)
	case p.HasTime():
		p.Uneven = grid.Rising(p.times) > 2
		p.say("the times are not even: each row keeps its own")
	}
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
	for _, v := range p.levels[channel] {
		if v > maxVolts || v < -maxVolts {
			return false
		}
	}
	return true
}

// countsOrVolts: whole numbers without a unit are a converter's counts.
func (p *draft) countsOrVolts() {
	for i := range p.Channels {
		if c := &p.Channels[i]; c.Unit == "" && p.head.columns[p.Layout.Value[i]].integers {
			c.Unit = acquire.CountUnit
			p.note("channel %s holds whole numbers without a unit: taken as converter counts", c.Name)
		}
	}
	p.analog()
}

// logicTable draws up a table whose chosen channels hold states; nil if it is none.
func (h *head) logicTable(opt acquire.Options) (*draft, error) {
	if h.timeColumn() < 0 || !h.someLogic() {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil || !p.logic() {
		return nil, err
	}
	return p, nil
}

// noInterval is the error for samples without a time base.
func (h *head) noInterval(what string) error {
	return &acquire.Error{File: h.name, Line: h.first + 1, What: what, Expect: "a time column, or a sample interval or rate in the preamble", Do: "give --interval, such as --interval 2us", Err: acquire.ErrTime}
}
