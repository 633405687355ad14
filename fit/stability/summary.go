package stability

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Summary is the mean, the standard deviation (divisor n-1) and the lag-1 autocorrelation of values in order.
type Summary struct {
	N                    int
	Mean, Deviation, Lag float64 // Deviation and Lag are NaN where there are too few values, or none that differ
}

// Summarise takes the mean and the deviation about it, corrected by what the mean left over, so that a large mean takes no digits
// from a small scatter (Chan, Golub and LeVeque 1983). The lag-1 coefficient is that of NIST StRD:
// sum (y_i - m)(y_i+1 - m) over sum (y_i - m)².
func Summarise(y []float64) Summary {
	s := Summary{N: len(y), Lag: math.NaN()}
	s.Mean, s.Deviation = stat.MeanStdDev(y, nil)
	var square, product float64
	for i, v := range y {
		square += (v - s.Mean) * (v - s.Mean)
		if i > 0 {
			product += (y[i-1] - s.Mean) * (v - s.Mean)
		}
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
