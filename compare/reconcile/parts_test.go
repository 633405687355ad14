package reconcile

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A quantile is the first point, in their order, at which the weights add up to the fraction: by sorting them all. Points far out leave
// all others in one of the equal parts of the range.
func TestQuantilesAgainstSorting(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 71))
	fractions := []float64{0, 0.025, 0.5, 0.975, 1}
	for _, far := range []float64{0, 1, 1e3, 1e9} {
		for _, n := range []int{1, 40, 5000} {
			points := make([]weighted, n)
			for i := range points {
				points[i] = weighted{rnd.NormFloat64(), float64(1 + rnd.IntN(8))} // sums of whole weights do not round
				if i%100 == 50 {
					points[i].x *= 1 + far
				}
			}
			got := quantiles(slices.Clone(points), fractions...)
			slices.SortFunc(points, func(a, b weighted) int { return cmp.Compare(a.x, b.x) })
			total := 0.0
			for _, p := range points {
				total += p.w
			}
			for k, f := range fractions {
				sum, want := 0.0, math.NaN()
				for i := 0; math.IsNaN(want); i++ {
					if sum += points[i].w; sum >= f*total*(1-1e-12) {
						want = points[i].x
					}
				}
				if got[k] != want {
					t.Errorf("%d points, a hundredth of them %g times as far out: quantile %g at %g, want %g", n, 1+far, f, got[k], want)
				}
			}
		}
	}
}
