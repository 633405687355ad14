package recognise

import (
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// tableShape: rows of time and level, evenly sampled or each with its own time; any preamble above.
var tableShape = shape{name: "time and volt table", fits: fitTable}

func fitTable(h *head, opt acquire.Options) (*draft, error) {
	if h.timeColumn() < 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	p.analog()
	return p, nil
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
