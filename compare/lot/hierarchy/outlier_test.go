package hierarchy

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
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

// TestCritical checks the critical distance of the outermost board: of one time by the test of Grubbs for 8 values at 5 % on one side
// (2.032: NIST/SEMATECH e-Handbook, 1.3.5.17.1, from memory), of many boards by what it comes to, the quantile of χ².
func TestCritical(t *testing.T) {
	near(t, "8 values", math.Sqrt(critical(8, 1, 0.10)), 2.032, 0.0005)
	for _, n := range []float64{100, 2e4, 1e6} {
		for p := 1.0; p <= 2; p++ {
			want := distuv.ChiSquared{K: p}.Quantile(1 - outlierRisk/n)
			near(t, fmt.Sprintf("%g boards of %g times", n, p), critical(n, p, outlierRisk)/want, 1, 1e-3+15/n)
		}
	}
}

// A group in forty of a large lot stands out, all of it and nothing else.
func TestOutliersOfALargeLot(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 40))
	boards := make([]Board, 30_000)
	for i := range boards {
		x := r.NormFloat64()
		boards[i].High, boards[i].Low = 0.01*x, 0.01*x+0.004*r.NormFloat64()
		if i%40 == 7 {
			boards[i].High += 0.2
		}
	}
	out := (&Model{}).outliers(boards)
	if strange := slices.ContainsFunc(out, func(o Outlier) bool { return o.Board%40 != 7 }); len(out) != 750 || strange {
		t.Errorf("%d boards stand out, want the 750 that do", len(out))
	}
}

// The distance of an outlier is Mahalanobis's from the boards that are left, in their covariance: measuring is in that already, but for what
// it does more to this board than to them. Five boards are the fewest of which one is named, and of two alike the first comes first.
func TestDistanceOfAnOutlier(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 40))
	for _, more := range []float64{0, 2e-3} {
		boards := make([]Board, 30)
		x := mat.NewDense(29, 2, nil)
		for i := range boards {
			boards[i] = Board{High: 0.02 * r.NormFloat64(), Low: 0.03 * r.NormFloat64(), Noise: Noise{High: 1e-4, Low: 2e-4}}
			if i < 29 {
				x.SetRow(i, []float64{boards[i].High, boards[i].Low})
			}
		}
		odd := &boards[29]
		odd.Low, odd.Noise.High, odd.Noise.Low = 0.5, 1e-4+more, 2e-4+3*more
		out := (&Model{}).outliers(boards)
		if len(out) != 1 || out[0].Board != 29 {
			t.Fatalf("%+v", out)
		}
		var s mat.SymDense
		stat.CovarianceMatrix(&s, x, nil)
		s.SetSym(0, 0, s.At(0, 0)+more)
		s.SetSym(1, 1, s.At(1, 1)+3*more)
		var root mat.Cholesky
		root.Factorize(&s)
		from := mat.NewVecDense(2, []float64{odd.High, odd.Low})
		to := mat.NewVecDense(2, []float64{stat.Mean(mat.Col(nil, 0, x), nil), stat.Mean(mat.Col(nil, 1, x), nil)})
		near(t, "distance", out[0].Distance, stat.Mahalanobis(from, to, &root), 1e-9)
	}
	five := []Board{{High: 1e-3}, {Low: 1e-3}, {High: -1e-3, Low: 2e-3}, {Low: -2e-3}, {High: 0.9, Low: -0.5}}
	if out := (&Model{}).outliers(five); len(out) != 1 || out[0].Board != 4 {
		t.Errorf("of five %+v", out)
	}
	alike := make([]Board, 60)
	for i := range alike {
		alike[i] = Board{High: 1e-2 * r.NormFloat64(), Low: 1e-2 * r.NormFloat64()}
	}
	for _, at := range []int{51, 40, 23, 7} {
		alike[at] = Board{High: 1, Low: -1}
		l := newLeft(alike)
		if got, _ := l.outermost(l.moments(false)); got != at {
			t.Errorf("of those alike board %d comes first, want %d", got, at)
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
