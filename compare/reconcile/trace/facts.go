package trace

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit/budget"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/waveform"
)

// Unknown scale and zero, so large that what is left of the evidence is free of both.
const (
	anyScale = 30
	anyZero  = 30
)

// Facts turn the waveform into independent facts about the board under the conditions of capture number under. The
// times enter beside them: they come from the output's edges, while the six numbers are where and how fast the two
// runs go, whichever instant the edges mark, so that nothing is counted twice. absolute says that the channel's scale
// and zero may tell something; they do so once a board.
//
// Each fact is a number less what those before it predict of it (the factors L D L' of the covariance): L has ones
// on its diagonal, so that a density over the facts is one over the numbers. The least certain comes first, which
// keeps the factors below one.
func (n *Numbers) Facts(c *circuit.Circuit, typical *circuit.Values, under int, absolute bool) []posterior.Fact {
	use := []int{waveform.TauCharge, waveform.TauDischarge, waveform.Upper, waveform.Lower, waveform.Asymptote, waveform.DischargeAsymptote}
	use = slices.DeleteFunc(use, func(i int) bool {
		return n.single && ofDischarge(i) || c.Bends && (i == waveform.TauCharge || i == waveform.Asymptote)
	})
	scale, zero, skip := n.scale, n.zero, 0
	if !absolute || !n.Plausible {
		scale, zero, skip = anyScale, anyZero, 2
	}
	if !n.Plausible {
		n = n.rescaled(n.model(c, typical))
	}
	full := n.withChannel(scale, zero)
	slices.SortStableFunc(use, func(a, b int) int { return int(math.Copysign(1, full.At(b, b)-full.At(a, a))) })
	l, d := factors(full, use)
	// One board is asked for its facts one after the other, so the last answer of a processor is mostly the next one's too.
	type answer struct {
		c *circuit.Circuit
		v circuit.Values
		y [6]float64
	}
	pool := sync.Pool{New: func() any { return &answer{} }}
	model := func(c *circuit.Circuit, v *circuit.Values) [6]float64 {
		a := pool.Get().(*answer)
		defer pool.Put(a)
		if a.c != c || a.v != *v {
			*a = answer{c, *v, n.model(c, v)}
		}
		return a.y
	}
	var out []posterior.Fact
	for i := skip; i < len(use); i++ {
		row := inverseRow(l, i)
		of := func(y [6]float64) float64 {
			sum := 0.0
			for k, a := range row {
				sum += a * y[use[k]]
			}
			return sum
		}
		on := func(c *circuit.Circuit) func(v *circuit.Values) float64 {
			if !Tells(c) {
				return nil
			}
			return func(v *circuit.Values) float64 { return of(model(c, v)) }
		}
		out = append(out, posterior.Fact{Under: under, Value: of(n.y), Standard: math.Sqrt(d[i]), Of: on(c), On: on})
	}
	return out
}

// rescaled are the numbers with a scale and a zero by which the turns are those of a typical board: what is left once
// scale and zero are taken as unknown is linear in a board's own voltages only near those.
func (n *Numbers) rescaled(typical [6]float64) *Numbers {
	k := (typical[waveform.Upper] - typical[waveform.Lower]) / (n.y[waveform.Upper] - n.y[waveform.Lower])
	out := *n
	slope := mat.NewDense(6, 6, nil)
	for i := range out.y {
		slope.Set(i, i, 1)
		if i >= waveform.Upper {
			out.y[i] = typical[waveform.Lower] + k*(n.y[i]-n.y[waveform.Lower])
			slope.Set(i, i, k)
		}
	}
	if c, err := budget.Propagate(slope, n.covariance); err == nil {
		out.covariance = c
	}
	return &out
}

// leastFact is the smallest standard uncertainty of a fact that is taken at its word: a tenth of a code of 8 bits, below
// which no such channel is straight (common practice).
const leastFact = 4e-4

// factors are unit lower L and diagonal D with L D L' the covariance of the chosen numbers.
func factors(c mat.Symmetric, use []int) (l [][]float64, d []float64) {
	m := len(use)
	l, d = make([][]float64, m), make([]float64, m)
	for i := range m {
		l[i] = make([]float64, m)
		l[i][i] = 1
		for j := range i {
			x := c.At(use[i], use[j])
			for k := range j {
				x -= l[i][k] * l[j][k] * d[k]
			}
			l[i][j] = x / d[j]
		}
		d[i] = c.At(use[i], use[i])
		for k := range i {
			d[i] -= sq(l[i][k]) * d[k]
		}
		d[i] = max(d[i], sq(leastFact))
	}
	return l, d
}

// inverseRow is row i of the inverse of the unit lower matrix l.
func inverseRow(l [][]float64, i int) []float64 {
	row := make([]float64, i+1)
	row[i] = 1
	for j := i - 1; j >= 0; j-- {
		for k := j + 1; k <= i; k++ {
			row[j] -= row[k] * l[k][j]
		}
	}
	return row
}
