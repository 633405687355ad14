package noise

import (
	"math"

	"offbeat/fit/budget"
)

// odds are the probabilities of what the train's noise is: without a walk or with one, and with either in a train that is
// steady against its sample cells. They add to 1.
type odds struct{ still, walk, steadyStill, steadyWalk float64 }

// newOdds weighs the hypotheses, of which the logarithms of the evidence are given.
func newOdds(still, walk, steadyStill, steadyWalk float64) odds {
	sum := logSum(logSum(still, walk), logSum(steadyStill, steadyWalk))
	return odds{math.Exp(still - sum), math.Exp(walk - sum), math.Exp(steadyStill - sum), math.Exp(steadyWalk - sum)}
}

// logSum is the logarithm of the sum of two numbers of which the logarithms are given.
func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(a, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// answer is a mean high and low time, less nominal, and what noise and the sample lattice leave open of them.
type answer struct {
	high, low float64
	rows      []budget.Row
	white     float64 // variance of the edges' white noise beyond what is known
}

// mix is the mean of the answers under each noise that the train may have, and their budget: rows, of the mean of
// their covariances, and what the answers differ.
func mix(ways []way, o odds) answer {
	var a answer
	sum := max(o.still+o.walk, math.SmallestNonzeroFloat64)
	for i := range ways {
		w := &ways[i]
		k := w.chance(o) / sum
		a.high += k * w.h
		a.low += k * w.l
		a.white += k * w.white
	}
	for i := range ways[0].rows {
		row := ways[0].rows[i].Scale(0)
		for j := range ways {
			w := &ways[j]
			k := w.chance(o) / sum
			row = row.Plus(w.rows[i].Scale(k))
			if row.Name == walkName { // the answers differ by how much walk they suppose
				dh, dl := w.h-a.high, w.l-a.low
				row = row.Plus(budget.Row{High: k * dh * dh, Both: k * dh * dl, Low: k * dl * dl})
			}
		}
		a.rows = append(a.rows, row)
	}
	return a
}

// blend mixes the answer of a steady train in; steady may be nil, where the odds of it are 0. h0 and l0 are the
// nominal times.
func (a answer) blend(s *steadyFit, o odds, h0, l0 float64) answer {
	share := min(o.steadyStill+o.steadyWalk, 1) // rounding may leave a hair more
	if s == nil || share == 0 {
		return a
	}
	dh, dl := s.high-h0-a.high, s.period-s.high-l0-a.low
	left := 1 - share
	b := answer{a.high + share*dh, a.low + share*dl, nil, a.white * left}
	for _, row := range a.rows {
		row = row.Scale(left)
		switch row.Name {
		case walkName:
			row = row.Plus(s.walkRow.Scale(o.steadyWalk))
		case latticeName:
			row = row.Plus(s.row.Scale(share))
			row = row.Plus(budget.Row{High: dh * dh, Both: dh * dl, Low: dl * dl}.Scale(share * left))
		}
		b.rows = append(b.rows, row)
	}
	return b
}

// period is the variance of the mean period.
func (a answer) period() float64 {
	high, both, low := budget.Sum(a.rows)
	return high + 2*both + low
}
