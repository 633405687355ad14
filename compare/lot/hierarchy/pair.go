package hierarchy

import "math"

// pair is (ln high, ln low) or a residual of it. Where there is no low time the second entry is nought and its
// variance one, so that it adds nothing.
type pair [2]float64

// matrix is a symmetric 2x2 matrix: high-high, high-low, low-low.
type matrix [3]float64

func (a matrix) plus(b matrix) matrix { return matrix{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }

func (a matrix) times(f float64) matrix { return matrix{a[0] * f, a[1] * f, a[2] * f} }

func (a matrix) determinant() float64 { return a[0]*a[2] - a[1]*a[1] }

func (a matrix) inverse() matrix {
	d := a.determinant()
	return matrix{a[2] / d, -a[1] / d, a[0] / d}
}

func (a matrix) apply(x pair) pair { return pair{a[0]*x[0] + a[1]*x[1], a[1]*x[0] + a[2]*x[1]} }

// trace is the trace of the product a b.
func (a matrix) trace(b matrix) float64 { return a[0]*b[0] + 2*a[1]*b[1] + a[2]*b[2] }

func outer(x pair) matrix { return matrix{x[0] * x[0], x[0] * x[1], x[1] * x[1]} }

func (x pair) minus(y pair) pair { return pair{x[0] - y[0], x[1] - y[1]} }

// distance is x' a x.
func (a matrix) distance(x pair) float64 { return a.trace(outer(x)) }

func (a matrix) valid() bool { return a[0] > 0 && a.determinant() > 0 && !math.IsInf(a[0]+a[2], 0) }
