package noise

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit/budget"
	"offbeat/fit/train"
)

// EstimateSingle fits the mean high time of single pulses, which are independent of each other, and the mean low time between
// them: of pulses that are triggered from outside, or of one whole cycle. One pulse has no scatter, and no type A part.
func EstimateSingle(t *train.Record, k Known) (*Result, error) {
	if t.Highs == 0 {
		return nil, ErrFew
	}
	r := &Result{}
	var d []float64
	for _, c := range t.Cycles {
		if x := c.Fall - c.Rise; !math.IsNaN(x) {
			d = append(d, x)
		}
	}
	n := float64(len(d))
	mean, variance := stat.PopMeanVariance(d, nil)
	r.High = mean
	var low []float64
	for i, c := range t.Cycles {
		if i > 0 && !c.Start {
			if x := c.Rise - t.Cycles[i-1].Fall; !math.IsNaN(x) && c.N == 1 {
				low = append(low, x)
			}
		}
	}
	lattice := 0.0
	if cell := k.Lattice.Cell; cell > 0 {
		v := k.Lattice.Variance()
		lattice = (v[0] + v[1]) * cell * cell
	}
	known := k.White[0] + k.White[1]
	// The scatter holds known noise and lattice too; what they do not explain is the pulses' own.
	own := 0.0
	if n > 1 {
		own = ownVariance(n*variance, n-1, known+lattice)
	}
	open := lattice / n // of the mean
	if m, ok := k.lengths(d); ok {
		area := k.Lattice.Cell * k.Lattice.Cell
		r.High = d[0] + m.mean*k.Lattice.Cell
		own = max(m.noise*area-known, 0)
		open = max(m.variance*area-(own+known)/n, 0)
	} else if variance < noNoise*lattice {
		open = lattice // all alike: nothing says that the lattice errors differ from pulse to pulse
	}
	r.White = math.Sqrt(own)
	gaps := max(float64(len(low)), 1)
	shared := 0.0 // an edge ends the one and begins the other
	if len(low) > 0 {
		shared = (k.White[0] + k.White[1]) / 2 * (n + gaps - 1)
	}
	r.Rows = []budget.Row{
		{Name: "edge noise known from the levels", Kind: "B", Distribution: "normal", High: known / n, Low: known / gaps, Both: -shared / n / gaps},
		{Name: "pulse to pulse", Kind: "A", Distribution: "normal", High: own / n},
		{Name: "sample interval", Kind: "B", Distribution: "rectangular", High: open},
	}
	if len(low) > 0 {
		r.Low = stat.Mean(low, nil)
	}
	if len(low) > 1 {
		r.Rows[1].Low = stat.Variance(low, nil) / float64(len(low))
	}
	if r.Rows[2].Low = lattice; len(low) > 0 && lattice > 0 { // the falling edge ends the one and begins the other
		v := k.Lattice.Variance()
		r.Rows[2].Both = -v[0] / (v[0] + v[1]) * open
	}
	hidden := unshown(r.High, t.Highs, 0, 0)
	if len(low) > 0 {
		hidden.Low = unshown(r.Low, len(low), 0, 0).High
	}
	r.Rows = append(r.Rows, hidden)
	return r, nil
}

// lengths is what pulses say of their mean length, less that of the first, in whole digits: whether they differ by noise alone, or as
// ends do that fall anywhere between two samples, the data tell. ok is false of one pulse, of numbers that are no whole digits, and where they scatter by so many that
// rounding is noise.
func (k *Known) lengths(d []float64) (m known, ok bool) {
	w := k.Lattice.Width()
	if min(w[0], w[1]) < 0.99 || len(d) < 2 {
		return m, false
	}
	x := make([]float64, len(d))
	for i := range d {
		of := (d[i] - d[0]) / k.Lattice.Cell
		if x[i] = math.Round(of); math.Abs(of-x[i]) > 0.01 {
			return m, false
		}
	}
	own, _, ok := rounded(x, alone)
	if !ok {
		return m, false
	}
	apart, _, _ := rounded(x, difference)
	if k.Rounding == acquire.OfInstants {
		own.variance += 1.0 / 12 // of the beginning, which may be the same for all
	}
	p := byThemselves(apart, own)
	off := own.mean - apart.mean
	m.mean, m.noise = p*own.mean+(1-p)*apart.mean, p*own.noise+(1-p)*apart.noise
	m.variance = p*own.variance + (1-p)*apart.variance + p*(1-p)*off*off
	return m, true
}

// ownVariance is the posterior mean of a variance v on top of a known one, from the sum of squares of a sample
// with dof degrees of freedom. The prior is log-uniform over a wide range about the sample's own variance.
func ownVariance(square, dof, known float64) float64 {
	scale := square/dof + known/10
	if scale == 0 {
		return 0
	}
	const nodes = 200
	lo, hi := math.Log(scale*priorDown), math.Log(scale*priorUp)
	var logs, v [nodes]float64
	for i := range v {
		v[i] = math.Exp(lo + (hi-lo)*(float64(i)+0.5)/nodes)
		logs[i] = -0.5 * (dof*math.Log(known+v[i]) + square/(known+v[i]))
	}
	all, mean := floats.LogSumExp(logs[:]), 0.0
	for i, l := range logs {
		mean += math.Exp(l-all) * v[i]
	}
	return mean
}
