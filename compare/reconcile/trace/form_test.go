package trace

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/waveform"
)

// What a fault that no list holds changes is a density over the numbers themselves: by their whole covariance, dense.
func TestOddFactsAreOddNumbers(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 17))
	use := []int{waveform.Lower, waveform.TauCharge, waveform.Asymptote, waveform.TauDischarge, waveform.DischargeAsymptote, waveform.Upper}
	root, errors := mat.NewDense(6, 6, nil), make([]float64, 6)
	for i := range 6 {
		errors[i] = 0.1 * rng.NormFloat64()
		for k := range 6 {
			root.Set(i, k, 0.02*rng.NormFloat64())
		}
	}
	var c mat.SymDense
	c.SymOuterK(1, root)
	l, d := factors(&c, use)
	facts := make([]float64, 6)
	for i := range facts {
		for k, x := range inverseRow(l, i) {
			facts[i] += x * errors[use[k]]
		}
	}
	want := 0.0
	for _, o := range oddities {
		v := mat.NewSymDense(6, nil)
		v.CopySym(&c)
		for i := range 6 {
			sd := 0.012
			if slices.Contains(o.off, i) {
				sd = map[bool]float64{true: 0.5, false: 0.1}[i < 2]
			}
			v.SetSym(i, i, v.At(i, i)+sd*sd)
		}
		var ch mat.Cholesky
		ch.Factorize(v)
		x := mat.NewVecDense(6, errors)
		var s mat.VecDense
		_ = ch.SolveVecTo(&s, x)
		want += o.share * math.Exp(-0.5*mat.Dot(x, &s)-0.5*ch.LogDet()-3*math.Log(2*math.Pi))
	}
	if got := odd(l, d, use, 0)(facts); math.Abs(got-math.Log(want)) > 1e-9 {
		t.Errorf("log density %v, want %v", got, math.Log(want))
	}
}

// The limits of a conductance that cannot be negative: at zero those of the half-normal distribution, whose 95 % point is the
// normal's 97.5 % point, 1.959964 (tables of the normal distribution); far from zero the normal's; below it still a limit. Of even
// draws they are those of the rectangular distribution, which holds 95 % within 1.645 standard deviations (95 % of the half-width, JCGM 100 4.3.7).
func TestConductanceIsNonNegative(t *testing.T) {
	const n = 40001
	normal, even := make([]float64, n), make([]float64, n)
	for i := range n {
		p := (float64(i) + 0.5) / n
		normal[i], even[i] = distuv.UnitNormal.Quantile(p), math.Sqrt(3)*(2*p-1)
	}
	for _, c := range []struct {
		all          []float64
		x, low, high float64
	}{{normal, 0, 0, 1.959964}, {normal, 10, 8.040036, 11.959964}, {even, 10, 8.355, 11.645}} {
		all := make([]float64, n)
		for i, x := range c.all {
			all[i] = c.x + x
		}
		if got := nonNegative(all); !(math.Abs(got[0]-c.low) <= 1e-3) || !(math.Abs(got[1]-c.high) <= 1e-3) {
			t.Errorf("%g: %v, want %g … %g", c.x, got, c.low, c.high)
		}
	}
	for i := range normal {
		normal[i] -= 3
	}
	if got := nonNegative(normal); got[0] != 0 || !(got[1] > 0.1 && got[1] < 1.96) {
		t.Errorf("-3 ± 1: %v", got)
	}
}
