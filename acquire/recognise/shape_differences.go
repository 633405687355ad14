package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// differencesShape: a state and the time since the state before, or the time it lasted.
var differencesShape = shape{name: "time differences and states", fits: fitDifferences}

func fitDifferences(h *head, opt acquire.Options) (*proposal, error) {
	k := h.deltaColumn()
	if k < 0 || h.timeColumn() >= 0 && h.timeColumn() != k || !h.someLogic() {
		return nil, nil
	}
	p, err := h.tableAt(opt, k)
	if err != nil {
		return nil, err
	}
	if !p.logic() {
		return nil, nil
	}
	// An empty or zero first cell says that a difference ends at its own row's edge.
	first, ok := scan.Float(h.cell(h.first, k), h.point, 0)
	before := !ok || first == 0
	q := p.transitions(1)
	if before {
		q.say("the first difference is empty or zero: each difference ends at its own row's edge")
	} else {
		q.say("the first difference is not empty: each difference is how long its own row's state lasts")
	}
	l := p.Layout
	l.Value = append([]int{k}, l.Value...)
	l.Shift = append([]int{l.TimeShift}, l.Shift...)
	if l.Bit != nil {
		l.Bit = append([]int{-1}, l.Bit...)
	}
	l.Time = -1
	q.Lines = Differences{Layout: l, Longer: float64(l.Unit().Times), Before: before}
	return q, nil
}
