package hierarchy

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
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
	p, n := m.times(), len(boards)
	l := newLeft(boards)
	least := n - n/5
	low := critical(float64(max(least, int(p)+3)), p, outlierRisk) // it rises with n
	var removed []Outlier
	named := 0
	for l.n > least { // of fewer than five none is
		mean, s := l.moments(m.onePulse)
		if !s.valid() {
			break
		}
		at, most := l.outermost(mean, s)
		removed = append(removed, Outlier{Board: at})
		if most > low && most > critical(float64(l.n), p, outlierRisk) {
			named = len(removed)
		}
		l.remove(at)
	}
	removed = removed[:named]
	out := make([]bool, n)
	for _, o := range removed {
		out[o.Board] = true
	}
	var left []int
	for i := range boards {
		if !out[i] {
			left = append(left, i)
		}
	}
	return m.confirm(boards, left, removed)
}

// left are the boards of a lot that were not taken out of it.
type left struct {
	boards  []Board
	n       int
	gone    []bool
	about   pair // that the sums are about
	sum     pair
	squares matrix

	order   []int // those left when mean and covariance were these, the outermost there first
	far     []float64
	mean    pair
	inverse matrix
}

func newLeft(boards []Board) *left {
	l := &left{boards: boards, n: len(boards), gone: make([]bool, len(boards))}
	for _, b := range boards {
		l.about[0] += b.High / float64(l.n)
		l.about[1] += b.Low / float64(l.n)
	}
	for _, b := range boards { // about their mean, from which they add up to nothing
		l.squares = l.squares.plus(outer(b.residual().minus(l.about)))
	}
	return l
}

func (l *left) remove(i int) {
	d := l.boards[i].residual().minus(l.about)
	l.gone[i] = true
	l.n--
	l.sum = l.sum.minus(d)
	l.squares = l.squares.plus(outer(d).times(-1))
}

// moments are the mean and the covariance of the boards left.
func (l *left) moments(onePulse bool) (pair, matrix) {
	n := float64(l.n)
	off := pair{l.sum[0] / n, l.sum[1] / n}
	s := l.squares.plus(outer(off).times(-n)).times(1 / (n - 1))
	if onePulse {
		s[2] = 1
	}
	return pair{l.about[0] + off[0], l.about[1] + off[1]}, s
}

// sorted is by how much distances may have grown since the boards were sorted by them.
const sorted = 1.03

// outermost is the board farthest from a mean in a covariance, and its squared distance. By the triangle inequality no distance is
// more than the one that the boards are sorted by and that between the two means, times the most by which any length has grown: so
// few are looked at, and they are sorted anew as that grows.
func (l *left) outermost(mean pair, s matrix) (at int, most float64) {
	inverse := s.inverse()
	grown := math.Inf(1)
	if l.order != nil {
		grown = growth(inverse, l.inverse)
	}
	if !(grown < sorted) {
		l.mean, l.inverse, grown = mean, inverse, 1
		l.order, l.far = l.order[:0], make([]float64, len(l.boards))
		for i, b := range l.boards {
			if !l.gone[i] {
				l.order, l.far[i] = append(l.order, i), math.Sqrt(inverse.distance(b.residual().minus(mean)))
			}
		}
		slices.SortFunc(l.order, func(a, b int) int { return cmp.Compare(l.far[b], l.far[a]) })
	}
	moved := math.Sqrt(l.inverse.distance(mean.minus(l.mean)))
	at = -1
	for _, i := range l.order {
		if l.gone[i] {
			continue
		}
		if reach := (l.far[i] + moved) * grown * (1 + 1e-9); reach*reach < most {
			break
		}
		if d := inverse.distance(l.boards[i].residual().minus(mean)); at < 0 || d > most || d == most && i < at {
			at, most = i, d
		}
	}
	return at, most
}

// growth is the most by which a length by the inverse covariance a is more than by b: the root of the largest eigenvalue of b⁻¹a.
func growth(a, b matrix) float64 {
	c := b.inverse()
	trace, det := c.trace(a), c.determinant()*a.determinant()
	return math.Sqrt(trace/2 + math.Sqrt(max(trace*trace/4-det, 0)))
}

// times is how many times a board has.
func (m *Model) times() float64 {
	if m.onePulse {
		return 1
	}
	return 2
}

// critical is the squared distance that the outermost of n normal boards with p times, one or two, exceeds with that risk. With two
// the Beta distribution has a closed form. With one its quantile is sought in the tail: a library's, from below, is off by all
// there is from some ten thousand boards on.
func critical(n, p, risk float64) float64 {
	b := (n - p - 1) / 2
	x := -math.Expm1(math.Log(risk/n) / b)
	if p == 1 {
		low, high := 0.0, 1.0
		for range 60 {
			if x = (low + high) / 2; mathext.RegIncBeta(b, p/2, 1-x) > risk/n {
				low = x
			} else {
				high = x
			}
		}
	}
	return (n - 1) * (n - 1) / n * x
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
