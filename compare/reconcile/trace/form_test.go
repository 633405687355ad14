package trace

import (
	"math"
	"testing"
)

// The limits of a conductance that cannot be negative: at zero those of the half-normal distribution, whose 95 % point is the
// normal's 97.5 % point, 1.959964 (tables of the normal distribution); far from zero the normal's; below it still a limit.
func TestConductanceIsNonNegative(t *testing.T) {
	for _, c := range []struct{ x, low, high float64 }{{0, 0, 1.959964}, {10, 8.040036, 11.959964}} {
		if got := nonNegative(c.x, 1); math.Abs(got[0]-c.low) > 1e-6 || math.Abs(got[1]-c.high) > 1e-6 {
			t.Errorf("%g ± 1: %v, want %g … %g", c.x, got, c.low, c.high)
		}
	}
	if got := nonNegative(-3, 1); got[0] != 0 || !(got[1] > 0.1 && got[1] < 1.96) {
		t.Errorf("-3 ± 1: %v", got)
	}
}
