package hierarchy

import (
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// TestOutermostAgainstEveryBoard takes the boards of lots out one by one and looks at every one that is left, with the moments
// worked out anew: normal lots, and with a tail, a second group, equal boards, or one time alone.
func TestOutermostAgainstEveryBoard(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 19))
	for lot := range 40 {
		onePulse := lot%5 == 4
		boards := make([]Board, 20+r.IntN(150))
		for i := range boards {
			x, y := r.NormFloat64(), r.NormFloat64()
			b := &boards[i]
			b.High, b.Low = 0.01*x, 0.01*x+0.004*y
			switch {
			case lot%3 == 1 && r.IntN(6) == 0:
				b.High += 0.05 * r.ExpFloat64()
			case lot%3 == 2 && r.IntN(4) == 0:
				b.Low += 0.2
			case lot == 3:
				b.High, b.Low = 0.001*float64(r.IntN(4)), 0.001*float64(r.IntN(4))
			}
			if onePulse {
				b.Low = 0
			}
		}
		all := make([]int, len(boards))
		for i := range all {
			all[i] = i
		}
		l, m := newLeft(boards), &Model{onePulse: onePulse}
		for range len(boards) / 2 {
			mean, s := m.moments(boards, all)
			inverse, want := s.inverse(), 0.0
			for _, i := range all {
				want = max(want, inverse.distance(boards[i].residual().minus(mean)))
			}
			at, most := l.outermost(l.moments(onePulse))
			if !scalar.EqualWithinRel(most, want, 1e-6) || !slices.Contains(all, at) {
				t.Fatalf("lot %d, %d boards left: board %d at %g, want %g", lot, len(all), at, most, want)
			}
			l.remove(at)
			all = slices.DeleteFunc(all, func(i int) bool { return i == at })
		}
	}
}

func BenchmarkOutliers(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	boards := make([]Board, 100_000)
	for i := range boards {
		x := r.NormFloat64()
		boards[i].High, boards[i].Low = 0.01*x, 0.01*x+0.004*r.NormFloat64()
	}
	m := &Model{}
	for b.Loop() {
		m.outliers(boards)
	}
}
