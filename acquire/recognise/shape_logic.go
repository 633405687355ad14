package recognise

import (
	"offbeat/acquire"
)

// logicShape: the states of one or more lines, one row a sample.
var logicShape = shape{name: "sampled logic", fits: fitLogic}

func fitLogic(h *head, opt acquire.Options) (*draft, error) {
	p, err := h.logicTable(opt)
	if p == nil {
		return nil, err
	}
	repeats, rows := h.repeating(h.timeColumn()), h.last-h.first
	even := p.Grid.Step > 0 || opt.Interval > 0
	if opt.Shape == "" && (repeats == 0 || !even) {
		return nil, nil
	}
	p.Kind = acquire.Logic
	p.say("levels are 0 and 1, and %d of %d rows repeat the state before: one row a sample", repeats, rows)
	return p, nil
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

// someLogic: a column of states, as any list of transitions and any sampled logic must have.
func (h *head) someLogic() bool {
	for k := range h.columns {
		if h.columns[k].logic() {
			return true
		}
	}
	return false
}
