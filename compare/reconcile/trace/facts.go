package trace

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
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
	if m := len(out); m > 0 {
		out[0].Odd, out[0].Odds = odd(l, d, use, skip), m
	}
	return out
}

// oddities are what a fault that no list holds changes of the numbers, and how often: of 43 simulated boards a third showed a sound
// board's, and where some differed it was one time constant, one with its final voltage, both, both thresholds, or most.
var oddities = []struct {
	share float64
	off   []int
}{
	{0.3, nil},
	{0.05, []int{waveform.TauCharge}}, {0.05, []int{waveform.TauDischarge}},
	{0.025, []int{waveform.Upper}}, {0.025, []int{waveform.Lower}}, {0.025, []int{waveform.Asymptote}}, {0.025, []int{waveform.DischargeAsymptote}},
	{0.1, []int{waveform.TauCharge, waveform.TauDischarge}}, {0.1, []int{waveform.TauCharge, waveform.Asymptote}},
	{0.05, []int{waveform.TauDischarge, waveform.DischargeAsymptote}}, {0.05, []int{waveform.Upper, waveform.Lower}},
	{0.2, []int{waveform.TauCharge, waveform.TauDischarge, waveform.Upper, waveform.Lower, waveform.Asymptote, waveform.DischargeAsymptote}},
}

// By how much they differ then: a time constant in its logarithm, a voltage as a share of the supply; and what hardly does (likewise).
const oddTau, oddVoltage, even = 0.5, 0.1, 0.012

// odd is the logarithm of the density of the errors of the facts from the skipped ones on, on a board that nothing explains: normal by
// the facts' own variances d and by what the numbers differ, which the inverse of l turns into facts.
func odd(l [][]float64, d []float64, use []int, skip int) func(errors []float64) float64 {
	m := len(use)
	turn := mat.NewDense(m, m, nil)
	for i := range m {
		for k, x := range inverseRow(l, i) {
			turn.Set(i, k, x)
		}
	}
	inverse, top := make([]*mat.SymDense, len(oddities)), make([]float64, len(oddities))
	for j, o := range oddities {
		differs := mat.NewDense(m, m, nil)
		for i, n := range use {
			sd := even
			switch {
			case !slices.Contains(o.off, n):
			case n <= waveform.TauDischarge:
				sd = oddTau
			default:
				sd = oddVoltage
			}
			differs.Set(i, i, sd)
		}
		var turned mat.Dense
		turned.Mul(turn, differs)
		var all mat.SymDense
		all.SymOuterK(1, &turned)
		own := mat.NewSymDense(m-skip, nil)
		for i := range m - skip {
			for k := range i + 1 {
				own.SetSym(i, k, all.At(skip+i, skip+k))
			}
			own.SetSym(i, i, own.At(i, i)+d[skip+i])
		}
		inverse[j], top[j] = mat.NewSymDense(m-skip, nil), math.Inf(-1)
		var root mat.Cholesky
		if root.Factorize(own) && root.InverseTo(inverse[j]) == nil {
			top[j] = math.Log(o.share) - 0.5*(root.LogDet()+float64(m-skip)*math.Log(2*math.Pi))
		}
	}
	return func(errors []float64) float64 {
		x, sum := mat.NewVecDense(len(errors), errors), make([]float64, len(oddities))
		for j := range oddities {
			sum[j] = top[j] - 0.5*mat.Inner(x, inverse[j], x)
		}
		return floats.LogSumExp(sum)
	}
}

// Times are what the two runs take, s, whatever the channel's scale and zero are; ok is false where one of them never gets there.
func (n *Numbers) Times() (high, low float64, ok bool) {
	run := func(tau, from, to, target int) float64 {
		return math.Exp(n.y[tau]) * math.Log((n.y[target]-n.y[from])/(n.y[target]-n.y[to]))
	}
	high = run(waveform.TauCharge, waveform.Lower, waveform.Upper, waveform.Asymptote)
	low = run(waveform.TauDischarge, waveform.Upper, waveform.Lower, waveform.DischargeAsymptote)
	return high, low, !n.single && high > 0 && low > 0
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
