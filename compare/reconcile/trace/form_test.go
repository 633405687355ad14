package trace

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The limits of a conductance that cannot be negative: at zero those of the half-normal distribution, whose 95 % point is the
// normal's 97.5 % point, 1.959964 (tables of the normal distribution); far from zero the normal's; below it still a limit. Of even
// draws they are those of the rectangular distribution, which holds 95 % within 1.645 standard deviations (95 % of the half-width, JCGM 100 4.3.7).
func TestConductanceIsNonNegative(t *testing.T) {
	const n = 40001
	normal, even := make([]float64, n), make([]float64, n)
	for i := range n {
		p := (float64(i) + 0.5) / n
		normal[i], even[i] = distuv.UnitNormal.Quantile(p), math.Sqrt(3)*(2*p-1)
	}
	for _, c := range []struct {
		all          []float64
		x, low, high float64
	}{{normal, 0, 0, 1.959964}, {normal, 10, 8.040036, 11.959964}, {even, 10, 8.355, 11.645}} {
		all := make([]float64, n)
		for i, x := range c.all {
			all[i] = c.x + x
		}
		if got := nonNegative(all); !(math.Abs(got[0]-c.low) <= 1e-3) || !(math.Abs(got[1]-c.high) <= 1e-3) {
			t.Errorf("%g: %v, want %g … %g", c.x, got, c.low, c.high)
		}
	}
	for i := range normal {
		normal[i] -= 3
	}
	if got := nonNegative(normal); got[0] != 0 || !(got[1] > 0.1 && got[1] < 1.96) {
		t.Errorf("-3 ± 1: %v", got)
	}
}
