package recognise

import (
	"gonum.org/v1/gonum/floats"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// tableShape: rows of time and level, evenly sampled or each with its own time; any preamble above.
var tableShape = shape{name: "time and volt table", fits: fitTable}

func fitTable(h *head, opt acquire.Options) (*proposal, error) {
	if h.timeColumn() < 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	if q := p.alternating(); q != nil && opt.Shape == "" {
		return q, nil
	}
	return p.analog(), nil
}

// alternating proposes transitions where each row goes to the other of two levels; nil: they do not.
func (p *draft) alternating() *proposal {
	half, ok := p.alternate()
	if !ok {
		return nil
	}
	q := p.transitions(floats.Max(p.times))
	q.Half = &half
	q.say("at uneven times every row goes to the other of two levels: one row a transition")
	return q
}

// alternate reports whether the first chosen channel's levels are just two, each row's the other than the row's before, at uneven times, up
// to where the times begin anew; half lies between them. Samples that followed the signal would now and then find it where it was.
func (p *draft) alternate() (half float64, ok bool) {
	n := grid.Rising(p.times)
	if len(p.levels) == 0 || p.Grid.Step > 0 || !p.HasTime() || n < 6 || !grid.Ascends(p.times[:n]) {
		return 0, false
	}
	v := p.levels[0][:n]
	for i := 2; i < n; i++ {
		if v[i] != v[i-2] {
			return 0, false
		}
	}
	return (v[0] + v[1]) / 2, v[0] != v[1]
}
