package lot

import "offbeat/compare/verdict"

// Report decides on the lot.
func (c *Collector) Report(opt Options) (*Report, error) {
	opt = opt.usual()
	c.unlike()
	for _, name := range c.lots() {
		if err := opt.Check(len(c.of(name))); err != nil {
			return nil, err
		}
	}
	r := &Report{Schema: 1, Title: c.design.Title, Capability: map[string]Capability{}, Values: map[string][]float64{}, Boards: count(c.rows), Duplicates: c.duplicates}
	for i := range c.rows {
		switch row := &c.rows[i]; {
		case row.Silent != "":
			r.Silent = append(r.Silent, Failure{row.Board, row.Silent})
		case row.Error != "":
			r.Failed = append(r.Failed, Failure{row.Board, row.Error})
		case row.Inside != nil:
			r.Changing = append(r.Changing, *row.Inside)
		}
	}
	rows := judged(c.rows)
	for _, row := range rows {
		row.Cause, row.Apart = row.own, nil // of an earlier report
	}
	whole := c.moved(rows, opt)
	r.Parts, r.Causes, r.Confounded = whole.parts, whole.causes, whole.confounded
	r.Warnings = append(r.Warnings, whole.warnings...)
	if r.Batches = c.batches(rows, whole, opt); len(r.Batches) == 0 {
		c.stand(r, whole)
	}
	if len(r.Batches) > 0 {
		r.besides = r.beside(rows)
	}
	for i := range r.Batches { // who stands out is judged in its own batch
		c.stand(r, r.Batches[i].moved)
	}
	c.limits(r, rows, opt)
	r.Headline = c.headline(r, rows)
	c.gauges(r, rows)
	r.Follows = c.follows(rows)
	if err := c.decide(r, opt); err != nil {
		return nil, err
	}
	for _, row := range rows {
		if row.slipped {
			r.slipped = append(r.slipped, row.Board)
		}
		if row.Verdict == verdict.Fail {
			r.failing = append(r.failing, row.Board)
		}
	}
	r.Plan, r.Stations, r.Operators = &r.Acceptance.Plan, c.stations, c.operators
	r.warn(c.design)
	r.Finding = r.sentence(c.design)
	return r, nil
}
