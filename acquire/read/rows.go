package read

import (
	"bytes"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// cycleTaker lists the edges of cycles that follow one another.
type cycleTaker struct {
	cycle recognise.Cycles
	rows  scan.Rows
	begun bool
	t     float64
	state float64 // of what begins at t, where high and low times come in turn
}

func (c *cycleTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	fault, cell := out.p.Layout.Row(text, &c.rows)
	if fault != scan.NoFault {
		c.end(out)
		return out.bad(text, num, cut, cell)
	}
	times, states := [2]float64{}, [2]float64{1, 0}
	for i, v := range c.rows.Value {
		if times[i] = v[0] * c.cycle.Longer[i]; !(times[i] > 0 || c.cycle.Instants && times[i] == times[i]) || math.IsInf(times[i], 0) {
			c.end(out)
			return out.bad(text, num, cut, out.p.Layout.Value[i])
		}
	}
	switch {
	case len(c.rows.Value) == 1:
		if !c.begun {
			out.row(c.t, 0)
		}
		c.begun, c.state = true, 1-c.state
		out.row(c.t, c.state)
		c.t += times[0]
		return acquire.RowLine, "", nil
	case c.cycle.Instants:
		if times[1] < times[0] {
			times, states = [2]float64{times[1], times[0]}, [2]float64{0, 1}
		}
		for i, state := range states {
			out.row(times[i], state)
		}
		return acquire.RowLine, "", nil
	}
	if c.cycle.LowFirst {
		times, states = [2]float64{times[1], times[0]}, [2]float64{0, 1}
	}
	if !c.begun { // the state before the first edge
		out.row(c.t, states[1])
	}
	c.begun = true
	for i, state := range states {
		out.row(c.t, state)
		c.t += times[i]
	}
	return acquire.RowLine, "", nil
}

// end lists the last low or high time's end.
func (c *cycleTaker) end(out *listReader) {
	if c.begun {
		first := 1 - c.state
		if c.cycle.LowFirst {
			first = 0
		}
		out.row(c.t, first)
	}
	c.begun, c.state = false, 0
}

// durationTaker lists the edges of pulses.
type durationTaker struct {
	layout    scan.Layout
	tolerance float64 // s, by which an end may miss the next start
	longer    [2]float64
	rows      scan.Rows
	begun     bool
	until     float64
	state     float64
}

func (d *durationTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	fault, cell := d.layout.Row(text, &d.rows)
	if fault != scan.NoFault {
		d.close(out)
		return out.bad(text, num, cut, cell)
	}
	start, length, state := d.rows.Value[0][0]*d.longer[0], d.rows.Value[1][0]*d.longer[1], 1.0
	if len(d.rows.Value) > 2 {
		state = d.rows.Value[2][0]
	}
	if !(length >= 0) || math.IsInf(length, 0) || math.IsNaN(start) || math.IsInf(start, 0) || math.IsNaN(state) {
		d.close(out)
		return out.bad(text, num, cut, 0)
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

// differenceTaker adds up differences.
type differenceTaker struct {
	layout scan.Layout
	before bool
	longer float64
	t      float64
	rows   scan.Rows
	levels []float64
}

func (d *differenceTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	fault, cell := d.layout.Row(text, &d.rows)
	dt := math.NaN()
	if fault == scan.NoFault {
		dt = d.rows.Value[0][0] * d.longer
		if num == int64(out.p.First)+1 && math.IsNaN(dt) {
			dt = 0
		}
	}
	if fault != scan.NoFault || !(dt >= 0) || math.IsInf(dt, 0) {
		return acquire.SkippedLine, badRow, &acquire.Error{File: out.p.Name, Line: int(num), Column: scan.Column(text, d.layout.Delim, cell), What: "a difference or a state can't be read, so all times behind it are lost",
			Expect: "a time difference, not negative, and a state", Do: "mend the line, or cut the file before it", Err: acquire.ErrSyntax}
	}
	v := d.levels[:0]
	for _, x := range d.rows.Value[1:] {
		v = append(v, x[0])
	}
	d.levels = v
	out.b.marked = out.b.marked || d.rows.Marks
	if d.before {
		d.t += dt
		out.row(d.t, v...)
	} else {
		out.row(d.t, v...)
		d.t += dt
	}
	return acquire.RowLine, "", nil
}

// heldRow is a row that waits for the next.
type heldRow struct {
	rows  scan.Rows
	held  bool
	time  float64
	level []float64
}

// hold keeps the row that was just read.
func (t *heldRow) hold() {
	t.held, t.time, t.level = true, t.rows.Time[0], t.level[:0]
	for _, v := range t.rows.Value {
		t.level = append(t.level, v[0])
	}
}

// pairTaker joins two rows to one; the first of a pair is held.
type pairTaker struct{ heldRow }

func (t *pairTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if fault, cell := out.p.Layout.Row(text, &t.rows); fault != scan.NoFault {
		return out.bad(text, num, cut, cell)
	}
	out.b.marked = out.b.marked || t.rows.Marks
	if t.held && t.rows.Time[0] == t.time {
		for i, v := range t.rows.Value {
			t.level[i] = (t.level[i] + v[0]) / 2
		}
		out.row(t.time, t.level...)
		t.held = false
		return acquire.RowLine, "", nil
	}
	if t.held {
		out.note("line %d has no partner with the same time", num-1)
		out.cut()
	}
	t.hold()
	return acquire.RowLine, "", nil
}

func (t *pairTaker) end(out *listReader) {
	if t.held {
		out.note("the last row has no partner with the same time")
	}
}

// stepTaker keeps the last of the rows that have one time.
type stepTaker struct{ heldRow }

func (t *stepTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if fault, cell := out.p.Layout.Row(text, &t.rows); fault != scan.NoFault {
		t.end(out)
		return out.bad(text, num, cut, cell)
	}
	out.b.marked = out.b.marked || t.rows.Marks
	if t.held && t.rows.Time[0] != t.time {
		out.row(t.time, t.level...)
	}
	t.hold()
	return acquire.RowLine, "", nil
}

func (t *stepTaker) end(out *listReader) {
	if t.held {
		out.row(t.time, t.level...)
	}
	t.held = false
}

// bitTaker makes a sample of each character.
type bitTaker struct{}

func (bitTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	s := scan.Trim(text)
	if n, _ := scan.BitsOf(s); n == 0 {
		return out.bad(text, num, cut, 0)
	}
	for _, c := range bytes.TrimPrefix(s, []byte("0b")) {
		v, _ := scan.DumpState(c)
		out.sample(v)
	}
	return acquire.RowLine, "", nil
}
