package noise

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
	"offbeat/fit/budget"
)

const (
	shareBlocks = 8      // of the record, whose means say how steady the share of the high time is; fewer
	shareFew    = 4      // of few cycles,
	shareLeast  = 3      // which are so many in each at least
	shareChance = 1e-3   // how often those of a steady one alone differ by more than is allowed for chance
	shareEdges  = 4. / 3 // times the variance that single cycles let expect of a mean, where edges scatter: neighbours share a rise
)

// shares holds the variance of the mean high time to what its means over eighths of the record allow, the period being as it is: a baseline
// that moves, as alternating coupling has it after the start, shifts rises and falls against each other and no period. That they differ
// is told by Fisher's test against what cycles scatter within each. found is the variance that the budget has already. Rounding that keeps
// in step with the record shifts each of those means by all of it. Unit² of the chain.
func (m *model) shares(s *fit.Series, unit float64, h *hum, found float64) budget.Row {
	row := budget.Row{Name: sharesName, Kind: "A", Distribution: "normal"}
	blocks := min(shareBlocks, len(s.High)/shareLeast)
	if blocks < shareFew || h != nil { // hum moves it too, and has a row of its own
		return row
	}
	n, count := len(s.High)/blocks, float64(blocks)
	toHigh, toLow := m.c.l0/(m.c.h0+m.c.l0)/unit, m.c.h0/(m.c.h0+m.c.l0)/unit
	means, within := make([]float64, blocks), 0.0
	for k := range means {
		off := make([]float64, n)
		for i := range off {
			off[i] = s.High[k*n+i]*toHigh - s.Low[k*n+i]*toLow
		}
		mean, variance := stat.MeanVariance(off, nil)
		means[k], within = mean, within+variance/count
	}
	between := stat.Variance(means, nil) - m.fl.lattice[0] - m.fl.lattice[1]
	fisher := distuv.F{D1: count - 1, D2: float64(blocks * (n - 1))}
	if between/count > found && between*float64(n) > shareEdges*within*fisher.Quantile(1-shareChance) {
		return budget.Shift(row.Name, row.Kind, row.Distribution, math.Sqrt(between/count-found), 1, -1)
	}
	return row
}
