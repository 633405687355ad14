package lot

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// changeRisk is the chance of telling a change along the boards of a steady lot (common practice).
const changeRisk = 0.001

// changeAt finds where along the boards one group ends and another begins, by Wilks's ratio of the determinants of their scatter
// within the two groups and in all: for two groups it follows an F distribution (Rao 1973, 8c), and each place that was tried has
// its share of the risk. A parabola along the boards, as drifts make, must be far less likely, and neither group may go along one,
// as where the boards wander, unless it changes itself. Nought: nowhere.
func changeAt(points []point, dimensions int) int {
	z, count := roundOf(points, dimensions), len(points)
	n, p := float64(count), float64(dimensions)
	least := max(leastGroup, int(math.Ceil(leastShare*n)))
	var sum point
	at, most := 0, 0.0 // share of the scatter that the change makes
	for i, x := range z {
		if k := float64(i); i >= least && i <= count-least {
			if share := (sum[0]*sum[0] + sum[1]*sum[1]) / (k * (n - k)); share > most {
				at, most = i, share
			}
		}
		sum = point{sum[0] + x[0], sum[1] + x[1]}
	}
	f := distuv.F{D1: p, D2: n - p - 1}
	if at == 0 || f.Survival(most/(1-most)*f.D2/p)*float64(count-2*least+1) > changeRisk || -n/2*math.Log((1-most)/besideParabola(z)) < against {
		return 0
	}
	for _, group := range [2][]point{points[:at], points[at:]} {
		n := float64(len(group))
		if left := besideParabola(roundOf(group, dimensions)); (distuv.ChiSquared{K: 2 * p}).Survival(-(n-(p+5)/2)*math.Log(left)) < trendRisk && changeAt(group, dimensions) == 0 { // Bartlett 1947
			return 0
		}
	}
	return at
}

// roundOf are the points about their mean, with a scatter of one in every direction; nil where they have none.
func roundOf(points []point, dimensions int) []point {
	mean, covariance := momentsOf(points)
	white, ok := whitener(covariance, dimensions)
	if !ok {
		return nil
	}
	out := make([]point, len(points))
	for i, x := range points {
		out[i] = white.of(point{x[0] - mean[0], x[1] - mean[1]})
	}
	return out
}

// besideParabola is the determinant of the scatter that a parabola along round points leaves: over evenly laid places its slope and
// its bend are orthogonal.
func besideParabola(z []point) float64 {
	n := float64(len(z))
	var slope, bend point
	var tt, bb float64
	for i, x := range z {
		t := float64(i) - (n-1)/2
		b := t*t - (n*n-1)/12
		tt, bb = tt+t*t, bb+b*b
		for j := range x {
			slope[j], bend[j] = slope[j]+t*x[j], bend[j]+b*x[j]
		}
	}
	left := func(j, k int) float64 { return (slope[j]*slope[k]/tt + bend[j]*bend[k]/bb) / n }
	return (1-left(0, 0))*(1-left(1, 1)) - left(0, 1)*left(0, 1)
}
