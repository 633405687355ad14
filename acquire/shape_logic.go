package acquire

// logicShape: the states of one or more lines, one row a sample.
var logicShape = shape{name: "sampled logic", fits: fitLogic}

func fitLogic(h *head, opt Options) (*plan, error) {
	time := h.timeColumn()
	if time < 0 || len(h.columns) < 2 || !h.allLogic(time) {
		return nil, nil
	}
	p, err := h.base(opt, time)
	if err != nil {
		return nil, err
	}
	p.kind, p.shape = Logic, "sampled logic"
	if h.hasPreamble() {
		p.shape += " with preamble"
	}
	p.evidence = append(p.evidence, "every level is 0 or 1, and rows repeat a state: one row a sample")
	if err := p.grid(h, opt); err != nil {
		return nil, err
	}
	p.open = openTable
	return p, nil
}

// allLogic: every column but the time and a counter holds states, and none has a unit of level.
func (h *head) allLogic(time int) bool {
	n := 0
	for k := range h.columns {
		c := &h.columns[k]
		if k == time || c.filled == 0 || c.counting && isIndexName(c.name) {
			continue
		}
		if _, volt := levelUnits[c.unit]; volt || !c.logic {
			return false
		}
		n++
	}
	return n > 0
}
