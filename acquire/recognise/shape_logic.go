package recognise

import "offbeat/acquire"

// logicShape: the states of one or more lines, one row a sample.
var logicShape = shape{name: "sampled logic", fits: fitLogic}

func fitLogic(h *head, opt acquire.Options) (*proposal, error) {
	p, err := h.logicTable(opt)
	if p == nil {
		return nil, err
	}
	repeats, rows := h.repeating(h.timeColumn()), h.last-h.first
	even := p.Grid.Step > 0 || opt.Interval > 0
	if opt.Shape == "" && (repeats == 0 || !even) {
		return nil, nil
	}
	q := p.propose(acquire.Logic)
	q.say("levels are 0 and 1, and %d of %d rows repeat the state before: one row a sample", repeats, rows)
	return q, nil
}
