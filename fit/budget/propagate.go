package budget

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
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
