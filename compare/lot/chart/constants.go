package chart

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// C4 is the mean of the standard deviation of n normal values over their sigma.
func C4(n int) float64 {
	a, _ := math.Lgamma(float64(n) / 2)
	b, _ := math.Lgamma(float64(n-1) / 2)
	return math.Sqrt(2/float64(n-1)) * math.Exp(a-b)
}

// Range gives the mean d2 and the standard deviation d3 of the range W of n normal values over their sigma,
// from P(W <= w) = n int phi(x) (Phi(x+w) - Phi(x))^(n-1) dx (Tippett 1925).
func Range(n int) (d2, d3 float64) {
	if n == 2 { // the absolute difference has closed moments; every chart of individuals asks for them
		return 2 / math.SqrtPi, math.Sqrt(2 - 4/math.Pi)
	}
	// In x the integrand vanishes at both ends, where the trapezoid rule converges faster than any power of
	// its step; in w Simpson's rule leaves less than 1e-7.
	const dx, end = 0.2, 8.0
	const dw, steps = 0.05, 320
	unit := distuv.UnitNormal
	square := 0.0
	for i := 0; i <= steps; i++ {
		w := dw * float64(i)
		within := 0.0
		for x := -end; x <= end; x += dx {
			within += dx * float64(n) * unit.Prob(x) * math.Pow(unit.CDF(x+w)-unit.CDF(x), float64(n-1))
		}
		weight := dw / 3 * float64(2+2*(i%2))
		if i == 0 || i == steps {
			weight = dw / 3
		}
		d2 += weight * (1 - within)
		square += weight * 2 * w * (1 - within)
	}
	return d2, math.Sqrt(square - d2*d2)
}
