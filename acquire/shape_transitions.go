package acquire

import "bytes"

// transitionsShape: a row appears when the state of any line changes, and holds until the next row.
var transitionsShape = shape{name: "transition list", fits: fitTransitions}

func fitTransitions(h *head, opt Options) (*plan, error) {
	time := h.timeColumn()
	if time < 0 || len(h.columns) < 2 || !h.allLogic(time) || h.columns[time].counting && h.columns[time].unit == "" {
		return nil, nil
	}
	even, repeats := h.evenSteps(time), h.repeatedStates(time)
	if even && repeats > 0 {
		return nil, nil
	}
	p, err := h.base(opt, time)
	if err != nil {
		return nil, err
	}
	p.kind, p.shape = Transitions, "transition list"
	if h.hasPreamble() {
		p.shape += " with preamble"
	}
	if repeats == 0 {
		p.evidence = append(p.evidence, "every row changes the state of some line: one row a transition")
	} else {
		p.evidence = append(p.evidence, "states at uneven times: each holds until the next row")
	}
	p.open = openTable
	return p, nil
}

// evenSteps: the time column's steps are equal, its own rounding apart.
func (h *head) evenSteps(time int) bool {
	v := h.columns[time].values
	if len(v) < 3 {
		return false
	}
	step := (v[len(v)-1] - v[0]) / float64(len(v)-1)
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; !(d > step*0.5 && d < step*1.5) {
			return false
		}
	}
	return true
}

// repeatedStates counts rows whose states all equal those of the row before.
func (h *head) repeatedStates(time int) int {
	n := 0
	for i := h.first + 1; i < h.last; i++ {
		same := true
		for k := range h.columns {
			if k != time && !bytes.Equal(h.cell(i, k), h.cell(i-1, k)) {
				same = false
			}
		}
		if same {
			n++
		}
	}
	return n
}

func (h *head) cell(i, k int) []byte {
	if l := h.lines[i]; k < len(l.cells) {
		return l.cells[k]
	}
	return nil
}
