package acquire

import (
	"math"

	"offbeat/acquire/internal/scan"
)

// differencesShape: a state and the time since the state before, or the time it lasted.
var differencesShape = shape{name: "time differences and states", fits: fitDifferences}

func fitDifferences(h *head, opt Options) (*plan, error) {
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
	p.times = nil
	if err := p.transitions(); err != nil {
		return nil, err
	}
	p.surveyor.tick = tickOf(p.res, 1)
	if before {
		p.say("the first difference is empty or zero: each difference ends at its own row's edge")
	} else {
		p.say("the first difference is not empty: each difference is how long its own row's state lasts")
	}
	if h.again != equal {
		p.again = h.again
	}
	p.open = func(s *Source) recordReader {
		l := p.layout
		l.Value = append([]int{k}, l.Value...)
		l.Shift = append([]int{l.TimeShift}, l.Shift...)
		l.Time = -1
		return openList(s, len(p.channels), &differenceTaker{p: p, layout: l, before: before})
	}
	return p, nil
}

// deltaColumn finds a column of differences by its name; -1: none.
func (h *head) deltaColumn() int {
	for k := range h.columns {
		if c := &h.columns[k]; deltaNames[plainName(c.name)] && c.numbers > 0 {
			return k
		}
	}
	return -1
}

// differenceTaker adds up differences.
type differenceTaker struct {
	p      *plan
	layout scan.Layout
	before bool
	t      float64
	rows   scan.Rows
	levels []float64
}

func (d *differenceTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	if class, ok := d.p.above(text, num); ok {
		return class, "", nil
	}
	fault, cell := d.layout.Row(text, &d.rows)
	dt := math.NaN()
	if fault == scan.NoFault {
		dt = d.rows.Value[0][0]
		if num == int64(d.p.first)+1 && math.IsNaN(dt) {
			dt = 0
		}
	}
	if fault != scan.NoFault || !(dt >= 0) || math.IsInf(dt, 0) {
		return skippedLine, badRow, &Error{File: d.p.name, Line: int(num), Column: scan.Column(text, d.layout.Delim, cell), What: "a difference or a state can't be read, so all times behind it are lost",
			Expect: "a time difference, not negative, and a state", Do: "mend the line, or cut the file before it", Err: ErrSyntax}
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
	return rowLine, "", nil
}

func (d *differenceTaker) end(out *listReader) {}
