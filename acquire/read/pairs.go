package read

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// pairTaker joins two rows to one.
type pairTaker struct {
	p     *recognise.Plan
	rows  scan.Rows
	half  bool // the first row of a pair is waiting
	time  float64
	level []float64
}

func (t *pairTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if class, ok := t.p.Above(text, num); ok {
		return class, "", nil
	}
	if fault, cell := t.p.Layout.Row(text, &t.rows); fault != scan.NoFault {
		return out.bad(t.p, text, num, cut, cell)
	}
	out.b.marked = out.b.marked || t.rows.Marks
	if t.half && t.rows.Time[0] == t.time {
		for i, v := range t.rows.Value {
			t.level[i] = (t.level[i] + v[0]) / 2
		}
		out.row(t.time, t.level...)
		t.half = false
		return acquire.RowLine, "", nil
	}
	if t.half {
		out.note("line %d has no partner with the same time", num-1)
		out.cut()
	}
	t.half, t.time, t.level = true, t.rows.Time[0], t.level[:0]
	for _, v := range t.rows.Value {
		t.level = append(t.level, v[0])
	}
	return acquire.RowLine, "", nil
}

func (t *pairTaker) end(out *listReader) {
	if t.half {
		out.note("the last row has no partner with the same time")
	}
}
