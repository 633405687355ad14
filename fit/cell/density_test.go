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
		if got := logNormal(z); !(math.Abs(got-want) <= 1e-4) {
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
		if !(math.Abs(sum-1) <= 1e-3) {
			t.Errorf("noise %g, width %g: the density integrates to %g", c.s, c.width, sum)
		}
	}
}

// What lies inside a cell by the library's normal distribution, and its slope and bend by differences.
func TestInside(t *testing.T) {
	n := func(lo, mean, variance float64) float64 {
		s := math.Sqrt(2 * variance)
		a, b := (lo-mean)/s, (lo+1-mean)/s
		if a > 0 {
			a, b = -b, -a
		}
		return math.Log((math.Erfc(-b) - math.Erfc(-a)) / 2)
	}
	for _, sigma := range []float64{0.05, 0.3, 1.5, 6} {
		for far := -28.0; far <= 28; far += 0.35 {
			mean := 0.8 + far*(sigma+0.02)
			v, h := sigma*sigma, 1e-3*sigma
			value, log, slope, curve := Inside(0.3, mean, v)
			log += math.Log(value)
			up, at, down := n(0.3, mean+h, v), n(0.3, mean, v), n(0.3, mean-h, v)
			slack := 1.0
			if math.Abs(far) > 5 { // the table's own steps
				slack = 10
			}
			if !(math.Abs(log-at) <= 1e-3) || !(math.Abs(slope-(up-down)/(2*h)) <= 2e-3/sigma*slack) || !(math.Abs(curve-(2*at-up-down)/(h*h)) <= 6e-3/v*slack) {
				t.Errorf("mean %.2f, sigma %g: %.5f, slope %.5f, bend %.5f; by differences %.5f, %.5f, %.5f", mean, sigma, log, slope, curve, at, (up-down)/(2*h), (2*at-up-down)/(h*h))
			}
		}
	}
}
