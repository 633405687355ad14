package lot

import (
	"context"
	"math"
	"slices"

	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/workers"
)

// stand adds the boards that stand out, each with what sets it apart.
func (c *Collector) stand(r *Report, m *moved) {
	others := c.others(m.parts)
	for _, o := range m.outliers {
		if others != nil {
			o.row.against(others, c.clock)
		}
		r.Standing = append(r.Standing, Outlier{o.row.Board, o.distance, o.row.Cause})
		r.Outliers = append(r.Outliers, o.row.Board)
	}
}

// others is the design of a lot's boards as they are: the parts come from the same batches, so they are expected where the
// others' are, and to scatter as these do. How sure the batches' means are does not matter to that: whatever they are, the
// others share them. Nil: that is not known.
func (c *Collector) others(parts []Part) *reconcile.Many {
	d := *c.design
	d.Parts = slices.Clone(d.Parts)
	for i := range d.Parts {
		p := &d.Parts[i]
		k := slices.IndexFunc(parts, func(q Part) bool { return q.Name == p.Name })
		if k < 0 {
			return nil
		}
		p.Nominal *= math.Exp(parts[k].Shift.Value)
		width := math.Sqrt(3) * parts[k].Spread.Value
		p.Minus, p.Plus = min(width, p.Minus), min(width, p.Plus)
	}
	d.Readings, d.Targets = nil, nil
	m, err := reconcile.NewMany(&d)
	if err != nil { // the law does not run there: each board keeps its own cause
		return nil
	}
	return m
}

// against finds what sets the board apart from the others; where that fails its own cause stays.
func (r *Row) against(others *reconcile.Many, clock float64) {
	defer func() { workers.Caught(recover()) }()
	m := r.times.Measurement(r.predicted[0], r.predicted[1], clock)
	f, err := others.Brief(context.Background(), []*fit.Measurement{m})
	if err != nil || len(f.Causes) == 0 {
		return
	}
	for i := range f.Causes {
		f.Causes[i].Detail = AgainstOthers(f.Causes[i].Detail)
	}
	r.Apart = &Apart{f.Causes, AgainstOthers(f.Finding)}
	r.Cause = f.Causes[0]
}
