package recognise

import (
	"gonum.org/v1/gonum/floats"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// differencesShape: a state and the time since the state before, or the time it lasted.
var differencesShape = shape{name: "time differences and states", fits: fitDifferences}

func fitDifferences(h *head, opt acquire.Options) (*proposal, error) {
	k := h.deltaColumn()
	if k < 0 {
		k = h.lengths()
	}
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

// lengths finds the column that holds the time by its name or unit, though its numbers fall as often as they rise beside a state that
// changes in each row: they are how long each lasts; -1: none.
func (h *head) lengths() int {
	k := h.timeColumn()
	if k < 0 || len(h.columns) != 2 || h.columns[k].calendar || !h.columns[1-k].logic() {
		return -1
	}
	v, falls := h.numbers(k), 0
	for i := 1; i < len(v); i++ {
		if v[i] < v[i-1] {
			falls++
		}
	}
	if len(v) < 6 || len(v) != h.last-h.first || floats.Min(v) < 0 || 3*falls < len(v) || h.repeating(k) > 0 {
		return -1
	}
	return k
}
