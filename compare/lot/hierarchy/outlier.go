package hierarchy

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Outlier is a board that stands out from the lot.
type Outlier struct {
	Board    int     // index into the boards given
	Distance float64 // Mahalanobis distance from the others
}

// outlierRisk is the chance of naming any board in a lot that has none (common practice).
const outlierRisk = 0.01

// outliers tests the boards from the outermost inward (Wilks 1963, one board after the other as in Caroni and
// Prescott 1992): of n boards left, the largest squared distance d² from their mean in their covariance is set
// against (n-1)²/n times the quantile of Beta(p/2, (n-p-1)/2) at 1 - risk/n. All boards up to the last one
// that exceeds it stand out, so that several cannot hide one another. At most a fifth of the lot is tested.
func (m *Model) outliers(boards []Board) []Outlier {
	p := m.times()
	left := make([]int, len(boards))
	for i := range left {
		left[i] = i
	}
	var removed []Outlier
	named := 0
	for range len(boards) / 5 {
		n := float64(len(left))
		if n < p+3 {
			break
		}
		mean, s := m.moments(boards, left)
		if !s.valid() {
			break
		}
		inverse := s.inverse()
		at, most := 0, 0.0
		for k, i := range left {
			if d := inverse.distance(boards[i].residual().minus(mean)); d > most {
				at, most = k, d
			}
		}
		removed = append(removed, Outlier{Board: left[at]})
		if most > critical(n, p, outlierRisk) {
			named = len(removed)
		}
		left = append(left[:at], left[at+1:]...)
	}
	for _, o := range removed[named:] {
		left = append(left, o.Board)
	}
	return m.confirm(boards, left, removed[:named])
}

// times is how many times a board has.
func (m *Model) times() float64 {
	if m.onePulse {
		return 1
	}
	return 2
}

// critical is the squared distance that the outermost of n normal boards with p times exceeds with that risk.
func critical(n, p, risk float64) float64 {
	return (n - 1) * (n - 1) / n * distuv.Beta{Alpha: p / 2, Beta: (n - p - 1) / 2}.Quantile(1-risk/n)
}

// confirm keeps the outliers that their own measurement noise does not excuse, and gives their distance from
// the boards that are left.
func (m *Model) confirm(boards []Board, left []int, named []Outlier) []Outlier {
	if len(named) == 0 {
		return nil
	}
	mean, s := m.moments(boards, left)
	var usual matrix
	for _, i := range left {
		usual = usual.plus(boards[i].noise(m.onePulse).times(1 / float64(len(left))))
	}
	s = s.plus(matrix{max(usual[0]-s[0], 0), 0, max(usual[2]-s[2], 0)}) // equal values, rounded, scatter by less than measuring does
	limit := distuv.ChiSquared{K: m.times()}.Quantile(1 - outlierRisk/float64(len(boards)))
	var out []Outlier
	for _, o := range named {
		own := boards[o.Board].noise(m.onePulse)
		extra := matrix{max(own[0]-usual[0], 0), 0, max(own[2]-usual[2], 0)}
		d := s.plus(extra).inverse().distance(boards[o.Board].residual().minus(mean))
		if d > limit {
			out = append(out, Outlier{o.Board, math.Sqrt(d)})
		}
	}
	return out
}

// moments are the mean and the covariance of the boards' residuals.
func (m *Model) moments(boards []Board, chosen []int) (pair, matrix) {
	var mean pair
	n := float64(len(chosen))
	for _, i := range chosen {
		mean[0] += boards[i].High / n
		mean[1] += boards[i].Low / n
	}
	var s matrix
	for _, i := range chosen {
		s = s.plus(outer(boards[i].residual().minus(mean)).times(1 / (n - 1)))
	}
	if m.onePulse {
		s[2] = 1
	}
	return mean, s
}
