package lot

import (
	"fmt"
	"math"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/hierarchy"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// settled is the scale reduction of the sampler above which its spreads are rough, and astray that above which they say
// nothing (common practice: 1.1 to 1.2).
const (
	settled = 1.05
	astray  = 1.2
)

// moved says what boards have in common. Where that cannot be worked out, it says why: the lot is judged all the same.
func (c *Collector) moved(rows []*Row, opt Options) (m *moved) {
	defer func() {
		if r := recover(); r != nil {
			m = &moved{warnings: []string{fmt.Sprintf("what the whole lot has in common is not told: internal failure: %v; please report it with the captures", r)}}
		}
	}()
	m, err := c.work(rows, opt)
	if err != nil {
		return &moved{warnings: []string{fmt.Sprintf("what the whole lot has in common is not told: %v", err)}}
	}
	return m
}

// work runs the hierarchical back-solve twice: about the nominal parts, and about the centre that this finds.
// The centre is judged like a board whose parts are the means of the batchs.
func (c *Collector) work(rows []*Row, opt Options) (*moved, error) {
	m := &moved{}
	if len(rows) == 0 {
		return m, nil
	}
	boards := make([]hierarchy.Board, len(rows))
	for i, r := range rows {
		boards[i] = r.times
	}
	result, err := c.spread(boards, nil, hierarchy.Options{Seed: opt.Seed, Rough: true})
	if err != nil {
		return nil, err
	}
	centre, err := c.centre(result)
	if err != nil {
		return nil, err
	}
	values := make([]float64, len(centre.Parts))
	for i, p := range centre.Parts {
		values[i] = p.Value
	}
	if result, err = c.spread(boards, values, hierarchy.Options{Seed: opt.Seed}); err != nil { // the law does not run there: the nominal will do
		if result, err = c.spread(boards, nil, hierarchy.Options{Seed: opt.Seed}); err != nil {
			return nil, err
		}
	}
	switch {
	case result.ScaleReduction > astray:
		m.warnings = append(m.warnings, fmt.Sprintf("what is common to the lot is not resolved: its %d boards are too few, or differ too much from each other, for the spreads of the parts to settle (scale reduction %.2f)", len(rows), result.ScaleReduction))
	case result.ScaleReduction > settled:
		m.warnings = append(m.warnings, fmt.Sprintf("the spreads of the parts are not settled (scale reduction %.2f): take them as rough", result.ScaleReduction))
		fallthrough
	default:
		m.common(centre, result)
	}
	for _, o := range result.Outliers {
		m.outliers = append(m.outliers, outlier{rows[o.Board], o.Distance})
	}
	return m, nil
}

// common says what the boards have in common: the centre's causes, and each part's batch.
func (m *moved) common(centre *compare.Finding, result *hierarchy.Result) {
	m.causes, m.confounded = centre.Causes, centre.Confounded
	for i := range m.causes { // of the centre: how the boards lie about it, their parts' spreads tell
		if m.causes[i].Cause == cause.Nothing {
			m.causes[i].Detail = "no part moved for the whole lot"
		}
	}
	for i, p := range centre.Parts {
		s := result.Spreads[i]
		low, high := math.Log(p.Interval95[0]/p.Nominal), math.Log(p.Interval95[1]/p.Nominal)
		m.parts = append(m.parts, Part{p.Name,
			Estimate{math.Log(p.Value / p.Nominal), (high - low) / (2 * z95), [2]float64{low, high}},
			Estimate{s.Value, s.Standard, s.Interval95}, p.OutOfTolerance})
	}
}

// z95 is the normal quantile of 0.975: an interval's half width over it is taken as the standard uncertainty.
const z95 = 1.959963984540054

func (c *Collector) spread(boards []hierarchy.Board, values []float64, opt hierarchy.Options) (*hierarchy.Result, error) {
	model, err := hierarchy.NewModel(c.design, values)
	if err != nil {
		return nil, err
	}
	return model.Run(boards, opt)
}

// centre back-solves the average board.
func (c *Collector) centre(r *hierarchy.Result) (*compare.Finding, error) {
	p, err := predict.Run(c.design)
	if err != nil {
		return nil, err
	}
	low := 0.0
	if !p.OnePulse {
		low = p.Bands[1].Nominal
	}
	return reconcile.Run(c.design, []*fit.Measurement{r.CentreMeasurement(p.Bands[0].Nominal, low, c.clock)})
}
