package read

import (
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// durationTaker lists the edges of pulses.
type durationTaker struct {
	p         *recognise.Plan
	layout    scan.Layout
	tolerance float64 // s, by which an end may miss the next start
	longer    [2]float64
	rows      scan.Rows
	begun     bool
	until     float64
	state     float64
}

func (d *durationTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if class, ok := d.p.Above(text, num); ok {
		return class, "", nil
	}
	fault, cell := d.layout.Row(text, &d.rows)
	if fault != scan.NoFault {
		d.close(out)
		return out.bad(d.p, text, num, cut, cell)
	}
	start, length, state := d.rows.Value[0][0]*d.longer[0], d.rows.Value[1][0]*d.longer[1], 1.0
	if len(d.rows.Value) > 2 {
		state = d.rows.Value[2][0]
	}
	if !(length >= 0) || math.IsInf(length, 0) || math.IsNaN(start) || math.IsInf(start, 0) || math.IsNaN(state) {
		d.close(out)
		return out.bad(d.p, text, num, cut, 0)
	}
	switch {
	case !d.begun && start == 0:
		out.note("the first pulse begins with the record, and is not counted")
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
	return acquire.RowLine, "", nil
}

// close lists the last pulse's end.
func (d *durationTaker) close(out *listReader) {
	if d.begun {
		out.row(d.until, 1-d.state)
		d.begun = false
	}
}

func (d *durationTaker) end(out *listReader) { d.close(out) }
