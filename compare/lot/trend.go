package lot

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	trendRisk     = 0.001 // chance of naming a drift in a steady lot (common practice)
	leastForTrend = 8     // boards
	wanders       = 7     // how much likelier than a level, as a logarithm, a course must be that goes up and down
)

// trendOf tells how a quantity runs along the boards, each group about its own mean: by a straight line through all by least squares,
// where no other course is far likelier; nil: steadily.
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
	own := make([]point, n)
	for i, v := range x {
		t, y := float64(i)-mt[at(i)], v-mx[at(i)]
		tt, tx, xx = tt+t*t, tx+t*y, xx+y*y
		own[i][0] = y
	}
	freedom := float64(n - groups - 1)
	slope := tx / tt
	rest := max(xx-slope*tx, 0) / freedom
	o := orderOf(own, 1)
	if !(rest > 0) || all == 0 || o == nil {
		return nil
	}
	u := math.Sqrt(rest / tt)
	p := 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Survival(math.Abs(slope/u))
	span := float64(n-1) / all
	t := &Trend{Quantity: quantity, From: labels[0], To: labels[n-1], Value: slope * span, Uncertainty: u * span, P: p}
	smooth, line := o.smooth(), o.bend(0)
	changed, steps := o.changes()
	switch {
	case p <= trendRisk && max(smooth, steps) <= line+against:
	case p <= trendRisk || smooth >= wanders:
		_, along := o.waves()
		low, high := 0, 0
		for i, z := range along {
			if z[0] < along[low][0] {
				low = i
			}
			if z[0] > along[high][0] {
				high = i
			}
		}
		t.Bent = &Bent{labels[low], labels[high], (along[high][0] - along[low][0]) / o.white[0] / all}
	default:
		return nil
	}
	if steps >= smooth-against {
		for _, i := range changed {
			t.Batches = append(t.Batches, labels[i])
		}
	}
	return t
}

// words of a drift.
func (t *Trend) words() string {
	name := compare.QuantityOf(t.Quantity).Name
	out := fmt.Sprintf("The %s drifts along the boards: by %s (± %s) from %s to %s.", name, quantity.Change(t.Value), quantity.Relative(t.Uncertainty), t.From, t.To)
	if b := t.Bent; b != nil {
		out = fmt.Sprintf("The %s is not the same all along the boards, and no straight line: lowest about %s, highest about %s, %s apart.", name, b.Lowest, b.Highest, quantity.Relative(b.Range))
	}
	if len(t.Batches) > 0 {
		out += fmt.Sprintf(" Another batch from about %s on would look alike.", strings.Join(t.Batches, ", and from about "))
	}
	return out
}

// trend is how a quantity drifts along the boards that do not stand out, in each batch about its own mean.
func (r *Report) trend(quantity string, rows []*Row) *Trend {
	out, batch := map[string]bool{}, map[*Row]int{}
	for _, name := range r.Outliers {
		out[name] = true
	}
	for g := range r.Batches {
		for _, row := range r.Batches[g].rows {
			batch[row] = g
		}
	}
	var x []float64
	var labels []string
	var group []int
	for _, row := range rows {
		if !out[row.Board] {
			x, labels, group = append(x, row.Values[compare.PlaceOf(quantity)]), append(labels, row.Board), append(group, batch[row])
		}
	}
	return trendOf(quantity, x, labels, group)
}
