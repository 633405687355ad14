package recognise

import (
	"bytes"
	"slices"

	"gonum.org/v1/gonum/floats"

	"offbeat/acquire"
)

// stepsShape: a transition list as its line is drawn: two rows for each edge, with one time and the levels before and behind it.
var stepsShape = shape{name: "transition list with two rows an edge", fits: fitSteps}

func fitSteps(h *head, opt acquire.Options) (*proposal, error) {
	k := h.timeColumn()
	if k < 0 || opt.Interval > 0 || !h.steps(k) {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	half, two := p.twoLevels()
	if !p.HasTime() || !p.logic() && !two {
		return nil, nil
	}
	q := p.transitions(p.times[len(p.times)-1])
	if q.Lines = (Steps{}); !p.logic() {
		q.Half = &half
	}
	q.say("each edge has two rows with one time, the levels before and behind it: one row a transition")
	return q, nil
}

// steps reports whether the levels change between rows with one time, and hold between rows with different times; of the latter
// there are as many, but for a first and a last row that stand alone.
func (h *head) steps(time int) bool {
	edges, last := 0, h.last-1 // the last row may be cut
	for i := h.first + 1; i < last; i++ {
		same := bytes.Equal(h.cell(i, time), h.cell(i-1, time))
		if same == h.holds(i, time, false) {
			return false
		}
		if same {
			edges++
		}
	}
	rows := last - h.first
	return edges > 1 && rows-2*edges <= 2 && rows-2*edges >= 0
}

// twoLevels reports whether the chosen channel has just two levels; half lies between them.
func (p *draft) twoLevels() (half float64, ok bool) {
	if len(p.levels) != 1 || len(p.levels[0]) == 0 {
		return 0, false
	}
	low, high := floats.Min(p.levels[0]), floats.Max(p.levels[0])
	return (low + high) / 2, low < high && !slices.ContainsFunc(p.levels[0], func(v float64) bool { return v != low && v != high })
}
