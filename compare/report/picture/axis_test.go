package picture

import (
	"math"
	"strings"
	"testing"

	"offbeat/acquire/quantity"
)

// Ticks are round, lie in the range and number about what was asked; the rows are worked out by hand.
func TestTicks(t *testing.T) {
	for _, row := range []struct {
		lo, hi float64
		n      int
		unit   quantity.Unit
		want   string
	}{
		{0, 58e-3, 5, quantity.Second, "0 20 40 | ms"},
		{-5.2e-6, 4.9e-6, 3, quantity.Second, "−5 0 | µs"},
		{89.1e-9, 131e-9, 5, quantity.Farad, "90 100 110 120 130 | nF"},
		{9.6e3, 12.9e3, 4, quantity.Ohm, "10 11 12 | kΩ"},
		{0.0012, 0.0018, 3, quantity.Second, "1.2 1.4 1.6 1.8 | ms"},
		{-0.16, 0.13, 5, quantity.Number, "−10 0 10 | %"},
		{-1.6e-6, 1.6e-6, 3, quantity.Second, "−1 0 1 | µs"}, // the step of 2 would leave nought alone, without a unit
	} {
		at, d := ticks(row.lo, row.hi, row.n)
		text, symbol := labels(at, d, row.unit)
		if got := strings.Join(text, " ") + " | " + symbol; got != row.want {
			t.Errorf("%g … %g: %q, want %q", row.lo, row.hi, got, row.want)
		}
	}
}

func TestRatioTicks(t *testing.T) {
	for _, row := range []struct {
		lo, hi float64
		want   string
	}{
		{math.Log(0.86), math.Log(1.34), "−10 % 0 % +10 % +20 % +30 %"},
		{math.Log(0.15), math.Log(12), "×0.2 ×0.5 ×1 ×2 ×5 ×10"},
	} {
		at, text := ratioTicks(row.lo, row.hi)
		if got := strings.Join(text, " "); got != row.want {
			t.Errorf("%g … %g: %q, want %q", row.lo, row.hi, got, row.want)
		}
		for i, x := range at {
			if x < row.lo-1e-9 || x > row.hi+1e-9 {
				t.Errorf("%s lies outside", text[i])
			}
		}
	}
}

// A range without width, and one of no use at all, still give a scale and no endless run of ticks.
func TestTicksOfOddRanges(t *testing.T) {
	for _, r := range [][2]float64{{3, 3}, {0, 0}, {math.NaN(), 1}, {0, math.Inf(1)}, {-1e300, 1e300}} {
		if at, _ := ticks(r[0], r[1], 5); len(at) > 100 {
			t.Errorf("%v: %d ticks", r, len(at))
		}
	}
	if lo, hi := padded(3, 3, 0.1); !(lo < 3 && hi > 3) {
		t.Errorf("padded(3, 3) = %g … %g", lo, hi)
	}
}

func TestShortened(t *testing.T) {
	long := strings.Repeat("R2 and C1, ", 9)
	s := shortened(long, 200)
	if !strings.HasSuffix(s, "…") || 1.08*measure(s) > 200 || !strings.HasPrefix(long, strings.TrimSuffix(s, "…")) {
		t.Errorf("%q", s)
	}
	if s := shortened("R2", 200); s != "R2" {
		t.Errorf("%q", s)
	}
}
