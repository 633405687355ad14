package lot

import (
	"fmt"
	"math"
	"slices"

	"offbeat/compare/lot/capability"
	"offbeat/compare/lot/chart"
	"offbeat/fit"
)

// Capability is how one quantity fits its limits. Indexes that have no meaning are left out.
type Capability struct {
	N          int         `json:"count"`
	Mean       float64     `json:"mean"`
	Deviation  float64     `json:"standard_deviation"`
	Within     float64     `json:"within_standard_deviation"`
	Limits     [2]*float64 `json:"limits"`
	Cp         *float64    `json:"cp,omitempty"`
	Cpk        *float64    `json:"cpk,omitempty"`
	Pp         *float64    `json:"pp,omitempty"`
	Ppk        *float64    `json:"ppk,omitempty"`
	CpInterval *[2]float64 `json:"cp_interval95,omitempty"`
	CpkLimits  *[2]float64 `json:"cpk_interval95,omitempty"`
	PpInterval *[2]float64 `json:"pp_interval95,omitempty"`
	PpkLimits  *[2]float64 `json:"ppk_interval95,omitempty"`
	Outside    float64     `json:"fraction_outside"` // of a normal process with that mean and overall deviation
	Normality  Normality   `json:"normality"`
}

// Normality is the test for a normal distribution; the numbers are left out with fewer than eight boards.
type Normality struct {
	Test      string   `json:"test"`
	Statistic *float64 `json:"statistic,omitempty"`
	P         *float64 `json:"p_value,omitempty"`
}

// leastP is the smallest p-value written out: all below it mean the same.
const leastP = 0.001

// Words is the p-value as a person reads it; "" where there is none.
func (n Normality) Words() string {
	switch {
	case n.P == nil:
		return ""
	case *n.P < leastP:
		return "p < 0.001"
	}
	return fmt.Sprintf("p = %.2g", *n.P)
}

// doubt is the p-value below which values are said not to be normal (common practice).
const doubt = 0.05

// rangeMost is the largest subgroup that is charted by its range (ISO 7870-2: deviations above ten).
const rangeMost = 10

// limits judges each quantity of the target by its values: charts, capability, variables.
func (c *Collector) limits(r *Report, rows []*Row, opt Options) {
	for _, t := range c.design.Targets {
		i := slices.Index(quantities, t.Quantity)
		if i < 0 || len(rows) == 0 {
			continue
		}
		x, labels := make([]float64, len(rows)), make([]string, len(rows))
		for k, row := range rows {
			x[k], labels[k] = row.Values[i], row.Board
		}
		r.Values[t.Quantity] = x
		sigma := c.charts(r, t, x, labels, rows, opt)
		low, high := open(t)
		result, err := capability.Of(x, low, high, sigma)
		if err != nil {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s: %v", t.Quantity, err))
			continue
		}
		r.Capability[t.Quantity] = capabilityOf(result, low, high)
		if p := result.Normality.P; p < doubt {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s: the boards are not normally distributed (%s, %s): the capability's fractions and the variables plan do not hold; look for two batches, or boards that stand out",
				t.Quantity, result.Normality.Test, Normality{P: &p}.Words()))
		}
	}
}

// open gives a target's limits, infinite where one side has none.
func open(t fit.Target) (low, high float64) {
	low, high = t.Low, t.High
	if low <= 0 { // no time, frequency or ratio lies there
		low = math.Inf(-1)
	}
	return low, high
}

func capabilityOf(r capability.Result, low, high float64) Capability {
	c := Capability{N: r.N, Mean: r.Mean, Deviation: r.Deviation, Within: r.Within.Value, Limits: [2]*float64{finite(low), finite(high)}, Outside: r.Outside}
	for _, i := range []struct {
		index    capability.Index
		value    **float64
		interval **[2]float64
	}{
		{r.Cp, &c.Cp, &c.CpInterval}, {r.Cpk, &c.Cpk, &c.CpkLimits}, {r.Pp, &c.Pp, &c.PpInterval}, {r.Ppk, &c.Ppk, &c.PpkLimits},
	} {
		if v := finite(i.index.Value); v != nil {
			*i.value, *i.interval = v, &[2]float64{i.index.Low, i.index.High}
		}
	}
	c.Normality = Normality{r.Normality.Test, finite(r.Normality.Statistic), finite(r.Normality.P)}
	return c
}

// charts draws up the control charts of one quantity and returns the short-term deviation. With several lots of
// two boards or more, the lots are the subgroups; else single boards are charted, and an EWMA of them about the
// middle of the target.
func (c *Collector) charts(r *Report, t fit.Target, x []float64, labels []string, rows []*Row, opt Options) chart.Sigma {
	if groups, names := subgroups(x, rows); groups != nil {
		by := chart.ByDeviation
		if len(x)/len(groups) <= rangeMost {
			by = chart.ByRange
		}
		if means, spreads, sigma, err := chart.Subgroups(groups, by, 0); err == nil {
			r.chart(t.Quantity, means, names)
			r.chart(t.Quantity, spreads, names)
			return sigma
		}
	}
	single, moving, sigma, err := chart.Individuals(x, 0)
	if err != nil {
		return chart.Sigma{}
	}
	r.chart(t.Quantity, single, labels)
	r.chart(t.Quantity, moving, labels[1:])
	if e, err := chart.EWMA(x, t.Value, sigma.Value, chart.EWMAOptions{Weight: opt.Weight}); err == nil {
		r.chart(t.Quantity, e, labels)
	}
	return sigma
}

// subgroups splits the values by lot; nil where there are not two lots of two boards or more each.
func subgroups(x []float64, rows []*Row) (groups [][]float64, names []string) {
	for i, row := range rows {
		k := slices.Index(names, row.Lot)
		if k < 0 {
			k = len(names)
			names, groups = append(names, row.Lot), append(groups, nil)
		}
		groups[k] = append(groups[k], x[i])
	}
	if len(groups) < 2 || slices.ContainsFunc(groups, func(g []float64) bool { return len(g) < 2 }) {
		return nil, nil
	}
	return groups, names
}

func (r *Report) chart(quantity string, d chart.Chart, labels []string) {
	last := len(d.Points) - 1
	c := Chart{Quantity: quantity, Chart: d.Name, Centre: d.Centre, Low: d.Low[last], High: d.High[last], Drawing: &d, Labels: labels}
	for _, s := range d.Signals {
		c.Signals = append(c.Signals, ChartSignal{labels[s.Point], s.Rule, s.Name})
	}
	r.Charts = append(r.Charts, c)
}
