package cell

import (
	"math"
	"testing"
)

// The tabulated logarithm of the normal distribution function against the library's complementary error
// function, where that does not underflow.
func TestLogNormal(t *testing.T) {
	if got := logNormal(math.NaN()); !math.IsNaN(got) {
		t.Errorf("log of the normal distribution at NaN: %g", got)
	}
	for z := -30.0; z < 9; z += 0.0037 {
		want := math.Log(0.5 * math.Erfc(-z/math.Sqrt2))
		if got := logNormal(z); math.Abs(got-want) > 1e-4 {
			t.Fatalf("log of the normal distribution at %g: %g, want %g", z, got, want)
		}
	}
}

// Density is a density: over all errors it integrates to one, whatever noise and width.
func TestDensityIsADensity(t *testing.T) {
	for _, c := range []struct{ s, width float64 }{{0.01, 1}, {0.12, 1}, {0.5, 1}, {3, 1}, {0.2, 0.3}} {
		reach := c.width/2 + 9*c.s
		const n = 40000
		sum := 0.0
		for i := range n {
			r := (float64(i) + 0.5) / n * reach
			value, log := Density(r, c.s*c.s, c.width)
			sum += 2 * value * math.Exp(log) * reach / n
		}
		if math.Abs(sum-1) > 1e-3 {
			t.Errorf("noise %g, width %g: the density integrates to %g", c.s, c.width, sum)
		}
	}
}
