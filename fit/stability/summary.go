package stability

import (
	"math"
	"slices"
)

// Summary is the mean, the standard deviation (divisor n-1) and the lag-1 autocorrelation of values in order.
type Summary struct {
	N                    int
	Mean, Deviation, Lag float64 // Deviation and Lag are NaN where there are too few values, or none that differ
}

// Summarise makes two passes, the second about the mean of the first and corrected by what that mean left
// over, so that a large mean takes no digits from a small scatter (Chan, Golub and LeVeque 1983). The lag-1
// coefficient is that of NIST StRD: sum (y_i - m)(y_i+1 - m) over sum (y_i - m)².
func Summarise(y []float64) Summary {
	s := Summary{N: len(y), Deviation: math.NaN(), Lag: math.NaN()}
	if s.N == 0 {
		s.Mean = math.NaN()
		return s
	}
	n := float64(s.N)
	for _, v := range y {
		s.Mean += v / n
	}
	var left, square, product float64
	for _, v := range y {
		left += v - s.Mean
	}
	s.Mean += left / n
	left = 0
	for i, v := range y {
		d := v - s.Mean
		left += d
		square += d * d
		if i > 0 {
			product += (y[i-1] - s.Mean) * d
		}
	}
	if s.N > 1 {
		s.Deviation = math.Sqrt((square - left*left/n) / (n - 1))
	}
	if square > 0 {
		s.Lag = product / square
	}
	return s
}

// Median of the values, the upper one of two in the middle; the values are not changed.
func Median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}
