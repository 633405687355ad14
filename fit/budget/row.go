// Package budget combines uncertainty components in the manner of JCGM 100: rows of a budget for the mean high
// and low times, the law of propagation with correlated inputs, effective degrees of freedom and coverage.
package budget

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
)

// Row is one component of the covariance of the mean high and the mean low time. A component can move both:
// an error of the reference level lengthens one and shortens the other.
type Row struct {
	Name         string
	Kind         string  // "A" or "B" (JCGM 100, 4.2 and 4.3)
	Distribution string  // "normal" or "rectangular"
	High, Low    float64 // s², variance that it gives the mean high and the mean low time
	Both         float64 // s², covariance that it gives them
	Clock        bool    // the common clock factor, kept out of Sum
}

// Scale multiplies the row's variances, as for a change of unit.
func (r Row) Scale(k float64) Row {
	r.High, r.Low, r.Both = r.High*k, r.Low*k, r.Both*k
	return r
}

// Plus adds the variances of another row to this one's.
func (r Row) Plus(o Row) Row {
	r.High, r.Low, r.Both = r.High+o.High, r.Low+o.Low, r.Both+o.Both
	return r
}

// Shift is the row of a component of standard uncertainty u that moves the mean high time by high and the mean
// low time by low for each unit of it (JCGM 100, 5.1.2).
func Shift(name, kind, distribution string, u, high, low float64) Row {
	return Row{Name: name, Kind: kind, Distribution: distribution,
		High: u * u * high * high, Low: u * u * low * low, Both: u * u * high * low}
}

// Sum adds up all rows but the clock's: variance of the high time, their covariance, variance of the low time.
func Sum(rows []Row) (high, both, low float64) {
	for _, r := range rows {
		if !r.Clock {
			high += r.High
			both += r.Both
			low += r.Low
		}
	}
	return high, both, low
}

// Terms gives the rows as standard uncertainties.
func Terms(rows []Row) []fit.Term {
	var out []fit.Term
	for _, r := range rows {
		out = append(out, fit.Term{Name: r.Name, Kind: r.Kind, Distribution: r.Distribution,
			High: math.Sqrt(max(r.High, 0)), Low: math.Sqrt(max(r.Low, 0)),
			Period: math.Sqrt(max(r.High+r.Low+2*r.Both, 0)), Clock: r.Clock})
	}
	return out
}

// Propagate gives the covariance of outputs whose sensitivities to the inputs are the rows of c, from the
// inputs' covariance: C U C' (JCGM 100 5.2.2, equation 13, for several outputs at once H.2.3). Units are those
// of the sensitivities and of the inputs.
func Propagate(c mat.Matrix, inputs mat.Symmetric) (*mat.SymDense, error) {
	m, n := c.Dims()
	if k := inputs.SymmetricDim(); k != n {
		return nil, fmt.Errorf("%d sensitivities an output for %d inputs; expected one each", n, k)
	}
	var half, full mat.Dense
	half.Mul(c, inputs)
	full.Mul(&half, c.T())
	out := mat.NewSymDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			out.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	return out, nil
}
