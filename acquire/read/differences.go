package read

import (
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// differenceTaker adds up differences.
type differenceTaker struct {
	p      *recognise.Plan
	layout scan.Layout
	before bool
	longer float64
	t      float64
	rows   scan.Rows
	levels []float64
}

func (d *differenceTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if class, ok := d.p.Above(text, num); ok {
		return class, "", nil
	}
	fault, cell := d.layout.Row(text, &d.rows)
	dt := math.NaN()
	if fault == scan.NoFault {
		dt = d.rows.Value[0][0] * d.longer
		if num == int64(d.p.First)+1 && math.IsNaN(dt) {
			dt = 0
		}
	}
	if fault != scan.NoFault || !(dt >= 0) || math.IsInf(dt, 0) {
		return acquire.SkippedLine, badRow, &acquire.Error{File: d.p.Name, Line: int(num), Column: scan.Column(text, d.layout.Delim, cell), What: "a difference or a state can't be read, so all times behind it are lost",
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

func (d *differenceTaker) end(out *listReader) {}
