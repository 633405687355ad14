package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/compare"
	"offbeat/compare/lot/capability"
	"offbeat/compare/lot/chart"
	"offbeat/fit"
)

// doubt is the p-value below which values are said not to be normal (common practice).
const doubt = 0.05

// rangeMost is the largest subgroup that is charted by its range (ISO 7870-2: deviations above ten).
const rangeMost = 10

// limits judges each quantity of the target by its values: charts, capability, variables.
func (c *Collector) limits(r *Report, rows []*Row, opt Options) {
	if c.short > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d captures are shorter than two periods of the mains and can't show hum: their uncertainties and verdicts leave it out", c.short))
	}
	for _, t := range c.design.Targets {
		i := compare.PlaceOf(t.Quantity)
		if len(rows) == 0 {
			continue
		}
		x, labels := make([]float64, len(rows)), make([]string, len(rows))
		for k, row := range rows {
			x[k], labels[k] = row.Values[i], row.Board
		}
		r.Values[t.Quantity] = x
		sigma := c.charts(r, t, x, labels, rows, opt)
		if alike(t.Quantity, x, rows) {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s: the boards differ by less than measuring one of them does: their charts and their order say nothing of the parts", t.Quantity))
		} else if d := r.trend(t.Quantity, rows); d != nil {
			r.Trends = append(r.Trends, *d)
		}
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

// alike says whether values scatter by less than their own standard uncertainty, the clock's apart.
func alike(quantity string, x []float64, rows []*Row) bool {
	if len(x) < 2 {
		return false
	}
	w, noise := weightsOf(quantity, rows[0].predicted), 0.0
	for _, r := range rows {
		n := r.times.Noise
		noise += (w[0]*w[0]*n.High + 2*w[0]*w[1]*n.Covariance + w[1]*w[1]*n.Low) / float64(len(rows))
	}
	mean, deviation := stat.MeanStdDev(x, nil)
	return deviation*deviation < mean*mean*noise
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

// charts draws up the control charts of one quantity and returns the short-term deviation.
func (c *Collector) charts(r *Report, t fit.Target, x []float64, labels []string, rows []*Row, opt Options) chart.Sigma {
	d := drawing{rules: opt.Rules, weight: opt.Weight}
	names := labels
	d.groups, names = grouped(rows, labels)
	all, sigma := d.of(x)
	if len(all) == 0 {
		return sigma
	}
	if alike(t.Quantity, x, rows) { // what is charted is the rounding
		for i := range all {
			all[i].Signals = nil
		}
	}
	chances := d.chances(all, len(x), opt.Seed)
	for i, drawn := range all {
		at := names
		if drawn.Name == "moving range" {
			at = names[1:]
		}
		r.chart(t.Quantity, drawn, at, chances[i])
	}
	return sigma
}

// drawing is how the charts of one quantity are made.
type drawing struct {
	groups []int // the subgroup of each value; nil: single values
	rules  []int // that count; nil: those of usualRules
	weight float64
}

// usualRules are one point beyond three deviations and nine in a row on one side (ISO 7870-2). All eight pattern tests
// together would call a steady lot of fifty boards out of control more often than not.
var usualRules = []int{1, 2}

// of draws the charts of some values: with several lots of two boards or more the lots are the subgroups; else single
// boards are charted, and an EWMA of them about their mean. Whether the process is on target is not for a chart to say.
func (d drawing) of(x []float64) ([]chart.Chart, chart.Sigma) {
	if d.groups != nil {
		var groups [][]float64
		for i, g := range d.groups {
			for len(groups) <= g {
				groups = append(groups, nil)
			}
			groups[g] = append(groups[g], x[i])
		}
		by := chart.ByDeviation
		if len(x)/len(groups) <= rangeMost {
			by = chart.ByRange
		}
		if means, spreads, sigma, err := chart.Subgroups(groups, by, 0); err == nil {
			return []chart.Chart{d.counted(means), d.counted(spreads)}, sigma
		}
	}
	single, moving, sigma, err := chart.Individuals(x, 0)
	if err != nil {
		return nil, chart.Sigma{}
	}
	all := []chart.Chart{d.counted(single), d.counted(moving)}
	if e, err := chart.EWMA(x, single.Centre, sigma.Value, chart.EWMAOptions{Weight: d.weight}); err == nil {
		all = append(all, d.counted(e))
	}
	return all, sigma
}

// counted leaves the signals of the rules that count.
func (d drawing) counted(c chart.Chart) chart.Chart {
	rules := d.rules
	if rules == nil {
		rules = usualRules
	}
	c.Signals = slices.DeleteFunc(c.Signals, func(s chart.Signal) bool { return !slices.Contains(rules, s.Rule) })
	return c
}

// steadyLots are drawn to see how often a steady lot shows as many signals, steadyPoints boards together.
const (
	steadyLots   = 1000
	steadyPoints = 1e5
)

// chances are how likely a steady lot of the same size, its limits from itself, shows as many signals or more in each
// chart: by simulation of normal values.
func (d drawing) chances(all []chart.Chart, n int, seed uint64) []float64 {
	out := make([]float64, len(all))
	if !slices.ContainsFunc(all, func(c chart.Chart) bool { return len(c.Signals) > 0 }) {
		for i := range out {
			out[i] = 1
		}
		return out
	}
	random := rand.New(rand.NewPCG(seed, 0xc4a7))
	lots := int(min(steadyLots, max(200, steadyPoints/float64(n))))
	x := make([]float64, n)
	for range lots {
		for i := range x {
			x[i] = random.NormFloat64()
		}
		steady, _ := d.of(x)
		for i := range min(len(steady), len(all)) {
			if len(steady[i].Signals) >= len(all[i].Signals) {
				out[i] += 1 / float64(lots)
			}
		}
	}
	return out
}

// grouped numbers the rows' lots, and names them; nil and the boards' own names where there are not two lots of two boards
// or more each.
func grouped(rows []*Row, labels []string) (groups []int, names []string) {
	count := map[int]int{}
	for _, row := range rows {
		k := slices.Index(names, row.Lot)
		if k < 0 {
			k = len(names)
			names = append(names, row.Lot)
		}
		groups = append(groups, k)
		count[k]++
	}
	for _, n := range count {
		if n < 2 || len(count) < 2 {
			return nil, labels
		}
	}
	return groups, names
}

func (r *Report) chart(quantity string, d chart.Chart, labels []string, chance float64) {
	last := len(d.Points) - 1
	c := Chart{Quantity: quantity, Chart: d.Name, Centre: d.Centre, Low: d.Low[last], High: d.High[last], Drawing: &d, Labels: labels, Chance: chance}
	c.Steady = len(d.Signals) == 0 || chance >= rareSignals
	for _, s := range d.Signals {
		c.Signals = append(c.Signals, ChartSignal{labels[s.Point], s.Rule, s.Name})
	}
	r.Charts = append(r.Charts, c)
}

// rareSignals is the chance below which a chart's signals are not put down to chance: three charts of a quantity together
// then call a steady lot out of control once in twenty lots or less (common practice).
const rareSignals = 0.015

// finite is nil for what JSON has no word for.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// weightsOf are d ln(quantity)/d ln of the high and of the low time.
func weightsOf(quantity string, predicted [2]float64) [2]float64 {
	share := predicted[0] / (predicted[0] + predicted[1])
	return map[string][2]float64{"high_time": {1, 0}, "low_time": {0, 1}, "period": {share, 1 - share}, "frequency": {-share, share - 1}, "duty_factor": {1 - share, share - 1}}[quantity]
}
