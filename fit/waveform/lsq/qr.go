package lsq

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// qr is the orthogonal factorisation of a scaled Jacobian with a damping block below it, by Householder reflections.
type qr struct {
	m, n  int
	a     [][]float64 // columns; the reflections below the diagonal, R above it
	diag  []float64   // of R
	scale []float64
}

// newQR factors J / scale over sqrt(damping) times the unit matrix.
func newQR(j [][]float64, scale []float64, damping float64) *qr {
	m, n := len(j), len(scale)
	q := &qr{m: m + n, n: n, a: rows(n, m+n), diag: make([]float64, n), scale: append([]float64(nil), scale...)}
	for k := range n {
		for i := range m {
			q.a[k][i] = j[i][k] / scale[k]
		}
		q.a[k][m+k] = math.Sqrt(damping)
	}
	for k := range n {
		c := q.a[k][k:]
		norm := floats.Norm(c, 2)
		if norm == 0 {
			continue
		}
		if c[0] > 0 {
			norm = -norm
		}
		for i := range c {
			c[i] /= -norm
		}
		c[0]++
		q.diag[k] = norm
		for l := k + 1; l < n; l++ {
			q.reflect(k, q.a[l])
		}
	}
	return q
}

func (q *qr) reflect(k int, b []float64) {
	c := q.a[k]
	if c[k] == 0 {
		return
	}
	s := 0.0
	for i := k; i < q.m; i++ {
		s += c[i] * b[i]
	}
	s /= c[k]
	for i := k; i < q.m; i++ {
		b[i] -= s * c[i]
	}
}

// solve returns the step that makes J step + r smallest, damping included, in unscaled coordinates.
func (q *qr) solve(r []float64) []float64 {
	b := make([]float64, q.m)
	for i, x := range r {
		b[i] = -x
	}
	for k := range q.n {
		q.reflect(k, b)
	}
	x := make([]float64, q.n)
	for k := q.n - 1; k >= 0; k-- {
		s := b[k]
		for l := k + 1; l < q.n; l++ {
			s -= q.a[l][k] * x[l]
		}
		if q.diag[k] != 0 {
			x[k] = s / q.diag[k]
		}
	}
	for k := range x {
		x[k] /= q.scale[k]
	}
	return x
}

// within tells whether the second-order part of a step is small against the first, in scaled coordinates.
func (q *qr) within(bend, step []float64) bool {
	var a, v float64
	for k := range step {
		a = math.Hypot(a, q.scale[k]*bend[k])
		v = math.Hypot(v, q.scale[k]*step[k])
	}
	return 2*a <= acceleration*v
}

// smallest relative diagonal of R that still counts as determined.
const determined = 1e-14

// inverse is the inverse of J'J in unscaled coordinates; ok is false if J has not full rank.
func (q *qr) inverse() (inv [][]float64, ok bool) {
	largest := 0.0
	for _, d := range q.diag {
		largest = max(largest, math.Abs(d))
	}
	ri := rows(q.n, q.n) // inverse of R, upper triangle
	for k := range q.n {
		if math.Abs(q.diag[k]) <= determined*largest {
			return nil, false
		}
		ri[k][k] = 1 / q.diag[k]
		for i := k - 1; i >= 0; i-- {
			s := 0.0
			for l := i + 1; l <= k; l++ {
				s += q.a[l][i] * ri[l][k]
			}
			ri[i][k] = -s / q.diag[i]
		}
	}
	inv = rows(q.n, q.n)
	for i := range q.n {
		for j := range q.n {
			s := 0.0
			for l := max(i, j); l < q.n; l++ {
				s += ri[i][l] * ri[j][l]
			}
			inv[i][j] = s / (q.scale[i] * q.scale[j])
		}
	}
	return inv, true
}

// acceleration is the largest ratio of the second-order step to the first (Transtrum and Sethna 2012).
const acceleration = 0.75

func rows(m, n int) [][]float64 {
	all := make([]float64, m*n)
	out := make([][]float64, m)
	for i := range out {
		out[i] = all[i*n : (i+1)*n : (i+1)*n]
	}
	return out
}
