package budget

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

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

// Correlation is the correlation coefficient of two of the quantities of a covariance (JCGM 100 5.2.2,
// equation 14).
func Correlation(u mat.Symmetric, i, j int) float64 {
	return u.At(i, j) / math.Sqrt(u.At(i, i)*u.At(j, j))
}

// Effective is the number of effective degrees of freedom of a combined standard uncertainty whose components
// (each |c_i| u(x_i), in the result's unit) have the given degrees of freedom; +Inf for a component that is
// exactly known (Welch-Satterthwaite, JCGM 100 G.4.1, equation G.2b).
func Effective(components, freedom []float64) float64 {
	var square, sum float64
	for i, u := range components {
		square += u * u
		sum += u * u * u * u / freedom[i]
	}
	return square * square / sum
}

// Coverage is the factor k that makes an expanded uncertainty k u of the wanted coverage probability, the
// degrees of freedom cut to a whole number (Student's distribution, JCGM 100 G.3.2, G.4.1 and table G.2).
func Coverage(probability, freedom float64) float64 {
	p := (1 + probability) / 2
	if math.IsInf(freedom, 1) || freedom > 1e6 {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(math.Floor(freedom), 1)}.Quantile(p)
}
