package acquire

// logicShape: the states of one or more lines, one row a sample.
var logicShape = shape{name: "sampled logic", fits: fitLogic}

func fitLogic(h *head, opt Options) (*plan, error) {
	time := h.timeColumn()
	if time < 0 || !h.someLogic() {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	repeats := h.repeats(time)
	even := p.surveyor.grid.step > 0 || opt.Interval > 0
	if !p.logic() || opt.Shape == "" && (repeats == 0 || !even && repeats*2 < h.last-h.first) {
		return nil, nil
	}
	p.kind = Logic
	p.say("levels are 0 and 1, and %d of %d rows repeat the state before: one row a sample", repeats, h.last-h.first)
	return p, nil
}

// someLogic: a column of states, as any list of transitions and any sampled logic must have.
func (h *head) someLogic() bool {
	for k := range h.columns {
		if h.columns[k].logic() {
			return true
		}
	}
	return false
}
