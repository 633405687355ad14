package lot

import (
	"fmt"
	"math"

	"offbeat/acquire/quantity"
	"offbeat/compare"

	"gonum.org/v1/gonum/stat/distuv"
)

// trendRisk is the chance of naming a drift in a steady lot (common practice).
const trendRisk = 0.005

// leastForTrend boards are needed to speak of a drift.
const leastForTrend = 8

// trendOf fits a straight line along the boards by least squares, each group about its own mean; nil: no drift is told.
func trendOf(quantity string, x []float64, labels []string, group []int) *Trend {
	n := len(x)
	if n < leastForTrend {
		return nil
	}
	groups := 1
	for _, g := range group {
		groups = max(groups, g+1)
	}
	count, mt, mx := make([]float64, groups), make([]float64, groups), make([]float64, groups)
	at := func(i int) int {
		if group == nil {
			return 0
		}
		return group[i]
	}
	all := 0.0
	for i, v := range x {
		g := at(i)
		count[g]++
		mt[g] += (float64(i) - mt[g]) / count[g]
		mx[g] += (v - mx[g]) / count[g]
		all += v / float64(n)
	}
	var tt, tx, xx float64
	for i, v := range x {
		t, y := float64(i)-mt[at(i)], v-mx[at(i)]
		tt, tx, xx = tt+t*t, tx+t*y, xx+y*y
	}
	freedom := float64(n - groups - 1)
	slope := tx / tt
	rest := max(xx-slope*tx, 0) / freedom
	if !(rest > 0) || all == 0 {
		return nil
	}
	u := math.Sqrt(rest / tt)
	p := 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Survival(math.Abs(slope/u))
	if p > trendRisk {
		return nil
	}
	span := float64(n-1) / all
	return &Trend{quantity, labels[0], labels[n-1], slope * span, u * span, p}
}

// words of a drift.
func (t *Trend) words() string {
	return fmt.Sprintf("The %s drifts along the boards: by %s (± %s) from %s to %s.", compare.QuantityOf(t.Quantity).Name, quantity.Change(t.Value), quantity.Relative(t.Uncertainty), t.From, t.To)
}

// trend is how a quantity drifts along the boards that do not stand out, in each batch about its own mean.
func (r *Report) trend(quantity string, rows []*Row) *Trend {
	out, second := map[string]bool{}, map[*Row]int{}
	for _, name := range r.Outliers {
		out[name] = true
	}
	if len(r.Batches) > 0 {
		for _, row := range r.Batches[1].rows {
			second[row] = 1
		}
	}
	var x []float64
	var labels []string
	var group []int
	for _, row := range rows {
		if !out[row.Board] {
			x, labels, group = append(x, row.Values[compare.PlaceOf(quantity)]), append(labels, row.Board), append(group, second[row])
		}
	}
	return trendOf(quantity, x, labels, group)
}
