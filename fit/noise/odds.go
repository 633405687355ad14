package noise

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/budget"
)

// odds are the probabilities of what the train's noise is: each of the ways; and, in a train that is steady against its
// sample cells, without a walk and with one. They add to 1.
type odds struct {
	ways                    []float64
	steadyStill, steadyWalk float64
}

// steady is the probability that the train is steady.
func (o *odds) steady() float64 { return min(o.steadyStill+o.steadyWalk, 1) } // rounding may leave a hair more

// newOdds weighs the ways and the steady train (may be nil), where they have a walk as asked for.
func newOdds(ways []way, s *steadyFit, still, walk bool) odds {
	logs := make([]float64, len(ways), len(ways)+2)
	none := math.Inf(-1)
	of := func(log float64, asked bool) float64 {
		if asked {
			return log
		}
		return none
	}
	for i := range ways {
		logs[i] = of(ways[i].log, ways[i].walks && walk || !ways[i].walks && still)
	}
	if s == nil {
		s = &steadyFit{still: none, walk: none}
	}
	logs = append(logs, of(s.still, still), of(s.walk, walk))
	sum := floats.LogSumExp(logs)
	if math.IsInf(sum, -1) { // nothing else is left
		logs[0], sum = 0, 0
	}
	for i, l := range logs {
		logs[i] = math.Exp(l - sum)
	}
	n := len(ways)
	return odds{logs[:n], logs[n], logs[n+1]}
}

// answer is a mean high and low time, less nominal, and what noise and the sample lattice leave open of them.
type answer struct {
	high, low float64
	rows      []budget.Row
	white     float64 // variance of the edges' white noise beyond what is known
	step      float64 // and of the random step of one period
}

// mix is the mean of the answers under each noise that the train may have, and their budget: rows, of the mean of
// their covariances, and what the answers differ.
func mix(ways []way, o *odds) answer {
	var a answer
	sum := max(floats.Sum(o.ways), math.SmallestNonzeroFloat64)
	for i := range ways {
		w := &ways[i]
		k := o.ways[i] / sum
		a.high += k * w.h
		a.low += k * w.l
		a.white += k * w.white
		a.step += k * (w.excess.high + w.excess.low)
	}
	for i := range ways[0].rows {
		row := ways[0].rows[i].Scale(0)
		for j := range ways {
			w := &ways[j]
			k := o.ways[j] / sum
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
func (a answer) blend(s *steadyFit, o *odds, h0, l0 float64) answer {
	share := o.steady()
	if s == nil || share == 0 {
		return a
	}
	dh, dl := s.high-h0-a.high, s.period-s.high-l0-a.low
	left := 1 - share
	b := answer{a.high + share*dh, a.low + share*dl, nil, a.white * left, a.step * left}
	for _, row := range a.rows {
		if row.Name != humName { // what hum's fit leaves open is open for the steady train too
			row = row.Scale(left)
		}
		switch row.Name {
		case walkName:
			row = row.Plus(s.walkRow.Scale(o.steadyWalk))
		case LatticeName:
			row = row.Plus(s.row.Scale(share))
			row = row.Plus(budget.Row{High: dh * dh, Both: dh * dl, Low: dl * dl}.Scale(share * left))
		}
		b.rows = append(b.rows, row)
	}
	return b
}

// period is the variance of the mean period.
func period(rows ...budget.Row) float64 {
	high, both, low := budget.Sum(rows)
	return high + 2*both + low
}
