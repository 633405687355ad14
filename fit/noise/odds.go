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
		s = &steadyFit{still: inCells{log: none}, walk: inCells{log: none}}
	}
	logs = append(logs, of(s.still.log, still), of(s.walk.log, walk))
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
	rounded   float64 // of what rounding adds to each period
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
		a.rounded += k * (w.fl.steps[0] + w.fl.steps[1])
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

// blend mixes the answers of a steady train in; s may be nil, where the odds of it are 0.
func (a answer) blend(s *steadyFit, o *odds) answer {
	if s == nil || o.steady() == 0 {
		return a
	}
	still, walk, left := o.steadyStill, o.steadyWalk, 1-o.steady()
	b := answer{left*a.high + still*s.still.high + walk*s.walk.high, left*a.low + still*s.still.low + walk*s.walk.low, nil, a.white * left,
		a.step*left + walk*(s.steps.high+s.steps.low), a.rounded * left}
	steps := budget.Row{High: s.steps.high / s.cycles, Low: s.steps.low / s.cycles}
	cells := squares(a.high-b.high, a.low-b.low).Scale(left).
		Plus(s.still.row.Plus(squares(s.still.high-b.high, s.still.low-b.low)).Scale(still)).
		Plus(s.walk.row.Plus(squares(s.walk.high-b.high, s.walk.low-b.low)).Plus(steps.Scale(-1)).Scale(walk))
	for _, row := range a.rows {
		if row.Name != humName { // what hum's fit leaves open is open for the steady train too
			row = row.Scale(left)
		}
		switch row.Name {
		case walkName:
			row = row.Plus(steps.Scale(walk))
		case LatticeName:
			row = row.Plus(cells)
		}
		b.rows = append(b.rows, row)
	}
	return b
}

// allan is the Allan variance of the period over n periods that the answer's noise makes, in unit²: of the edges, of their known noise, of the
// steps, and of flicker and wander, which are given over the cycles of the whole record.
func (a *answer) allan(n float64, known, slow [2]float64, cycles float64) float64 {
	return 3*(a.white+(known[0]+known[1])/2)/(n*n) + (a.step+a.rounded)/n + slow[0] + slow[1]*n/cycles
}

// period is the variance of the mean period.
func period(rows ...budget.Row) float64 {
	high, both, low := budget.Sum(rows)
	return high + 2*both + low
}
