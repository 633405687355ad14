package level

import (
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

const (
	fewestRecur = 64   // samples in which a recurrence can be told from noise
	mostRecur   = 2048 // and that are looked at
	recurs      = 0.6  // autocorrelation of what recurs; of so many independent samples it stays below 0.5
)

// recurring tells samples that come again four times or oftener, as those of a coarsely sampled ramp or sine do, and noise and a
// drift do not: their autocorrelation falls below zero, and then rises again.
func recurring(v []float64) bool {
	v = v[:min(len(v), mostRecur)]
	n := len(v)
	if n < fewestRecur {
		return false
	}
	padded := make([]float64, 2*n)
	copy(padded, v)
	floats.AddConst(-stat.Mean(v, nil), padded[:n])
	t := fourier.NewFFT(len(padded))
	c := t.Coefficients(nil, padded)
	for i, x := range c {
		c[i] = complex(real(x*cmplx.Conj(x)), 0)
	}
	r := t.Sequence(nil, c)
	fell := false
	for lag := 1; lag <= n/4; lag++ {
		k := r[lag] / r[0] * float64(n) / float64(n-lag)
		if fell = fell || k < 0; fell && k > recurs {
			return true
		}
	}
	return false
}
