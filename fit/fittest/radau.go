package fittest

import (
	"math"
	"sync"
)

// radauStages is the number of stages of the implicit Runge-Kutta method of Radau's type IIA: order 2 stages - 1, stiffly accurate, so that what no
// capacitor holds is met at the end of each step (Hairer and Wanner, Solving Ordinary Differential Equations II, IV.5).
const radauStages = 5

// collocation gives the method's nodes and its matrix: the integrals of the Lagrange polynomials of the nodes.
var collocation = sync.OnceValues(func() (c [radauStages]float64, a [radauStages][radauStages]float64) {
	c = radauNodes()
	// Integrals by Gauss's rule of five points, exact for these polynomials.
	x := [...]float64{-0.9061798459386640, -0.5384693101056831, 0, 0.5384693101056831, 0.9061798459386640}
	w := [...]float64{0.2369268850561891, 0.4786286704993665, 0.5688888888888889, 0.4786286704993665, 0.2369268850561891}
	for i := range radauStages {
		for j := range radauStages {
			for k := range x {
				t := c[i] * (x[k] + 1) / 2
				l := 1.0
				for m := range radauStages {
					if m != j {
						l *= (t - c[m]) / (c[j] - c[m])
					}
				}
				a[i][j] += w[k] * l * c[i] / 2
			}
		}
	}
	return c, a
})

// radauNodes are the zeros of P(n) - P(n-1) of 2x-1, Legendre's polynomials, found by bisection; the last is 1.
func radauNodes() (c [radauStages]float64) {
	p := func(t float64) float64 {
		x := 2*t - 1
		p0, p1 := 1.0, x
		for k := 2; k <= radauStages; k++ {
			p0, p1 = p1, (float64(2*k-1)*x*p1-float64(k-1)*p0)/float64(k)
		}
		return p1 - p0
	}
	const grid = 400
	n := 0
	for i := range grid - 1 {
		low, high := float64(i)/grid, float64(i+1)/grid
		if (p(low) > 0) == (p(high) > 0) || n == radauStages-1 {
			continue
		}
		for range 100 {
			mid := (low + high) / 2
			if (p(mid) > 0) == (p(low) > 0) {
				low = mid
			} else {
				high = mid
			}
		}
		c[n] = (low + high) / 2
		n++
	}
	c[radauStages-1] = 1
	return c
}

// dense solves a x = b in place for each column of b by elimination with partial pivoting; false where a is singular.
func dense(a, b [][]float64) bool {
	n := len(b)
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[p][k]) {
				p = i
			}
		}
		if a[p][k] == 0 {
			return false
		}
		a[p], a[k] = a[k], a[p]
		b[p], b[k] = b[k], b[p]
		for i := k + 1; i < n; i++ {
			f := a[i][k] / a[k][k]
			if f == 0 {
				continue
			}
			for j := k; j < n; j++ {
				a[i][j] -= f * a[k][j]
			}
			for j, x := range b[k] {
				b[i][j] -= f * x
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			for k, x := range b[j] {
				b[i][k] -= a[i][j] * x
			}
		}
		for k := range b[i] {
			b[i][k] /= a[i][i]
		}
	}
	return true
}
