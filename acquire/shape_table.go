package acquire

import "fmt"

// tableShape: rows of time and level, evenly sampled or each with its own time; a preamble of any form above.
var tableShape = shape{name: "time and volt table", fits: fitTable}

func fitTable(h *head, opt Options) (*plan, error) {
	time := h.timeColumn()
	if time < 0 || len(h.columns) < 2 {
		return nil, nil
	}
	p, err := h.base(opt, time)
	if err != nil {
		return nil, err
	}
	p.kind = Samples
	p.shape = "time and volt table"
	if h.hasPreamble() {
		p.shape += " with preamble"
	}
	for i, c := range p.channels {
		if c.Unit == "" {
			p.channels[i].Unit = "V"
			p.notes = append(p.notes, fmt.Sprintf("the unit of channel %s is a guess: volts", c.Name))
		}
	}
	if err := p.grid(h, opt); err != nil {
		return nil, err
	}
	p.open = openTable
	return p, nil
}

func (h *head) hasPreamble() bool {
	for i := range h.first {
		if i != h.names && i != h.units && !h.lines[i].blank() {
			return true
		}
	}
	return false
}

// grid settles a stated interval: needed where the first column counts samples.
func (p *plan) grid(h *head, opt Options) error {
	step := opt.Interval
	if step == 0 {
		step = h.meta.interval
	}
	p.counting = h.columns[p.time].counting && h.columns[p.time].unit == "" && !isTimeName(h.columns[p.time].name)
	if p.counting && step == 0 {
		return &Error{File: h.name, Line: h.first + 1, Column: 1, What: "the first column counts samples and no sample interval is stated",
			Expect: "a time column or an interval", Do: "give --interval, such as --interval 2us", Err: ErrTime}
	}
	p.step = step
	return nil
}
