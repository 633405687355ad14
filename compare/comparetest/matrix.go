package comparetest

import "math"

// equations is the most that a board is solved for: ln high, ln low, and the control pin's reading.
const equations = 3

// matrix is small and square; its methods take the size n of the leading block that counts.
type matrix [equations][equations]float64

// root is the lower triangular root of a symmetric positive definite matrix (Cholesky); ok is false for any other.
func (m matrix) root(n int) (l matrix, ok bool) {
	for i := range n {
		for j := range i + 1 {
			sum := m[i][j]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if !(sum > 1e-13*m[i][i]) || math.IsInf(sum, 0) {
				return l, false
			}
			l[i][i] = math.Sqrt(sum)
		}
	}
	return l, true
}

// solve gives x with (root root') x = b.
func (l matrix) solve(b [equations]float64, n int) [equations]float64 {
	for i := range n {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] /= l[i][i]
	}
	return b
}

// inverseProduct is the inverse of root root'.
func (l matrix) inverseProduct(n int) (m matrix) {
	for k := range n {
		var e [equations]float64
		e[k] = 1
		for i, x := range l.solve(e, n) {
			m[i][k] = x
		}
	}
	return m
}
