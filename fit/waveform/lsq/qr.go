package lsq

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// qr is the orthogonal factorisation of a scaled Jacobian with a damping block below it.
type qr struct {
	mat.QR
	m, n  int
	scale []float64
}

// newQR factors J / scale over sqrt(damping) times the unit matrix.
func newQR(j [][]float64, scale []float64, damping float64) *qr {
	q := &qr{m: len(j) + len(scale), n: len(scale), scale: append([]float64(nil), scale...)}
	a := mat.NewDense(q.m, q.n, nil)
	for k, s := range scale {
		for i := range j {
			a.Set(i, k, j[i][k]/s)
		}
		a.Set(len(j)+k, k, math.Sqrt(damping))
	}
	q.Factorize(a)
	return q
}

// solve returns the step that makes J step + r smallest, damping included, in unscaled coordinates.
func (q *qr) solve(r []float64) []float64 {
	b, x := mat.NewVecDense(q.m, nil), mat.NewVecDense(q.n, nil)
	for i, v := range r {
		b.SetVec(i, -v)
	}
	_ = q.SolveVecTo(x, false, b) // what is ill-conditioned is damped until it helps
	for k, s := range q.scale {
		x.SetVec(k, x.AtVec(k)/s)
	}
	return x.RawVector().Data
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
	var r mat.Dense
	q.RTo(&r)
	upper, largest := mat.NewTriDense(q.n, mat.Upper, nil), 0.0
	for k := range q.n {
		largest = max(largest, math.Abs(r.At(k, k)))
		for i := range k + 1 {
			upper.SetTri(i, k, r.At(i, k))
		}
	}
	for k := range q.n {
		if math.Abs(r.At(k, k)) <= determined*largest {
			return nil, false
		}
	}
	_ = upper.InverseTri(upper) // of the rank that was just seen
	var square mat.Dense
	square.Mul(upper, upper.T())
	inv = rows(q.n, q.n)
	for i := range q.n {
		for j := range q.n {
			inv[i][j] = square.At(i, j) / (q.scale[i] * q.scale[j])
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
