package acquire

import (
	"math"

	"offbeat/acquire/internal/scan"
)

// durationsShape: a row for each pulse, with its start, how long it lasts and, mostly, whether it is high or low.
var durationsShape = shape{name: "table of pulses with start and duration", fits: fitDurations}

func fitDurations(h *head, opt Options) (*plan, error) {
	start, length := h.timeColumn(), h.deltaColumn()
	if start < 0 || length < 0 || start == length {
		return nil, nil
	}
	state := -1
	for k := range h.columns {
		if c := &h.columns[k]; k != start && k != length && c.states > 0 && !c.analog {
			state = k
		}
	}
	only := *h
	only.columns = append([]column{}, h.columns...)
	for k := range only.columns {
		if k != start && k != state {
			only.columns[k].filled = 0
		}
	}
	if state < 0 { // each row is a high pulse: let the choice of channels find its one column
		only.columns[length] = column{name: "pulse", filled: 1, numbers: 1, states: 1}
	}
	p, err := only.tableAt(opt, start)
	if err != nil {
		return nil, err
	}
	p.times = nil
	if err := p.transitions(); err != nil {
		return nil, err
	}
	p.surveyor.tick = tickOf(p.res, 1)
	p.say("column %d says how long each pulse lasts", length+1)
	if state < 0 {
		p.note("no column says which pulses are high: all are taken as high")
	}
	l := p.layout
	l.Time, l.Value, l.Shift = -1, []int{start, length}, []int{l.TimeShift, p.unitShift(length)}
	if state >= 0 {
		l.Value, l.Shift = append(l.Value, state), append(l.Shift, 0)
	}
	tolerance := p.res.finest * 1.01
	p.open = func(s *Source) recordReader {
		return openList(s, 1, &durationTaker{p: p, layout: l, tolerance: tolerance})
	}
	return p, nil
}

// unitShift is the power of ten of a further time column: its own unit, or that of the time column.
func (p *plan) unitShift(k int) int {
	if u := p.head.columns[k].unit; isTimeUnit(u) {
		return scan.TimeUnits[u]
	}
	return p.layout.TimeShift
}

// durationTaker lists the edges of pulses.
type durationTaker struct {
	p         *plan
	layout    scan.Layout
	tolerance float64 // s, by which an end may miss the next start
	rows      scan.Rows
	begun     bool
	until     float64
	state     float64
}

func (d *durationTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	if class, ok := d.p.above(text, num); ok {
		return class, "", nil
	}
	fault, cell := d.layout.Row(text, &d.rows)
	if fault != scan.NoFault {
		d.close(out)
		return out.bad(d.p, text, num, cut, cell)
	}
	start, length, state := d.rows.Value[0][0], d.rows.Value[1][0], 1.0
	if len(d.rows.Value) > 2 {
		state = d.rows.Value[2][0]
	}
	if !(length >= 0) || math.IsInf(length, 0) || math.IsNaN(start) || math.IsInf(start, 0) || math.IsNaN(state) {
		d.close(out)
		return out.bad(d.p, text, num, cut, 0)
	}
	switch {
	case !d.begun:
		out.row(start, 1-state) // the state before the first edge
	case math.Abs(start-d.until) <= d.tolerance:
		if state == d.state {
			out.note("line %d repeats the state of the pulse before it: an edge is missing", num)
			out.cut()
			out.row(start, 1-state)
		}
	default:
		out.row(d.until, 1-d.state)
		if state != d.state {
			out.note("line %d does not begin where the pulse before it ended", num)
			out.cut()
			out.row(start, 1-state)
		}
	}
	out.row(start, state)
	d.begun, d.until, d.state = true, start+length, state
	return rowLine, "", nil
}

// close lists the last pulse's end.
func (d *durationTaker) close(out *listReader) {
	if d.begun {
		out.row(d.until, 1-d.state)
		d.begun = false
	}
}

func (d *durationTaker) end(out *listReader) { d.close(out) }
