package nextreading

import (
	"math"

	"offbeat/compare"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Expected is what a reading shows, on average over the boards that an explanation leaves, by the number that group gives the
// explanation of each hypothesis: the frequency in Hz after a change of the board, or the part's or the pin's own value in
// SI units. NaN: no such board, or the reading shows something else.
func Expected(b *Bench, r *posterior.Result, group []int, groups int, n *compare.Next) []float64 {
	sum, weight := make([]float64, groups), make([]float64, groups)
	for _, t := range b.tests() {
		if t.kind != n.Kind || t.part != n.Part {
			continue
		}
		for i := range r.Samples {
			s := &r.Samples[i]
			p, runs := b.point(s.Values, b.of(s))
			var y [most]float64
			if !runs || s.Weight == 0 || !t.observe(&p, &y) {
				continue
			}
			x := math.NaN()
			switch t.kind {
			case KnownPart, Swap, Warming:
				x = -math.Log(math.Exp(p.lnHigh+y[0]) + math.Exp(p.lnLow+y[0]-y[1]))
			case Resistance, Capacitance, Supply:
				x = y[0]
			case Control:
				x = y[0] + math.Log(s.Values[circuit.Supply])
			}
			g := group[s.Hypothesis]
			sum[g], weight[g] = sum[g]+s.Weight*x, weight[g]+s.Weight
		}
	}
	for g := range sum {
		sum[g] = math.Exp(sum[g] / weight[g]) // no weight: NaN
	}
	return sum
}
