package change

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Rosner's 54 values with their three outliers, as the NIST/SEMATECH e-Handbook, 1.3.5.17.3, prints them with R and the critical
// values: 3.118, 2.942, 3.179, 2.810, 2.815, 2.848, … against 3.158, 3.151, 3.143, 3.136, 3.128, 3.120, … at 5 %. At our level none is
// one; with one made 9 larger, it is.
func TestOddOnesOfTheHandbook(t *testing.T) {
	y := []float64{-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96,
		1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01}
	if got := oddAt(y, 0, 0.05, 10); !slices.Equal(got, []int{51, 52, 53}) {
		t.Errorf("the handbook's outliers: %v, want the last three", got)
	}
	if got := oddAt(y, 0, falseShots, 10); len(got) > 0 {
		t.Errorf("at one in 3,000: %v", got)
	}
	y[10] += 9
	if got := oddAt(y, 0, falseShots, 10); !slices.Equal(got, []int{10}) {
		t.Errorf("one far off: %v", got)
	}
}

// Pulses alike fail in one of a thousand at most; a jump, a slope, and one pulse off by so many of its uncertainties are told for what
// they are.
func TestShots(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	for _, n := range []int{4, 6, 8, 12, 40} {
		const trains = 4000
		wrong := 0
		for range trains {
			h := make([]float64, n)
			for i := range h {
				h[i] = 1 + 1e-3*rng.NormFloat64()
			}
			if s := OfShots(h, 0); len(s.Odd) > 0 || s.Jump > 0 || s.Slope {
				wrong++
			}
		}
		if wrong > trains/1000+7 { // 3.5 standard deviations above
			t.Errorf("%d pulses alike: told in %d of %d", n, wrong, trains)
		}
	}
	for _, c := range []struct {
		name string
		do   func(h []float64)
		is   func(s Shots) bool
	}{
		{"jump", func(h []float64) {
			for i := 12; i < 24; i++ {
				h[i] += 8e-3 / math.Sqrt(6)
			}
		}, func(s Shots) bool {
			return s.Jump > 9 && s.Jump < 15 && math.Abs(s.By-8e-3/math.Sqrt(6)) < 5*s.Uncertainty
		}},
		{"jump and return", func(h []float64) {
			for i := 8; i < 15; i++ {
				h[i] += 5e-3
			}
		}, func(s Shots) bool { return s.Jump == 8 && s.Back == 15 && math.Abs(s.By-5e-3) < 5*s.Uncertainty }},
		{"ten here and there", func(h []float64) {
			for _, i := range []int{0, 2, 3, 7, 9, 12, 16, 17, 20, 23} {
				h[i] += 0.4
			}
		}, func(s Shots) bool { return len(s.Odd) == 10 }},
		{"slope", func(h []float64) {
			for i := range h {
				h[i] += 8e-3 * float64(i) / 23
			}
		}, func(s Shots) bool { return s.Slope && math.Abs(s.By-8e-3) < 5*s.Uncertainty }},
		{"one longer", func(h []float64) { h[7] += 8e-3 }, func(s Shots) bool { return slices.Contains(s.Odd, 7) && len(s.Odd) < 3 }},
		{"two shorter", func(h []float64) { h[7], h[8] = h[7]-0.3, h[8]-0.2 }, func(s Shots) bool { return slices.Equal(s.Odd, []int{7, 8}) && s.Jump == 0 }},
	} {
		told := 0
		for range 200 {
			h := make([]float64, 24)
			for i := range h {
				h[i] = 1 + 1e-3*rng.NormFloat64()
			}
			c.do(h)
			if c.is(OfShots(h, 0)) {
				told++
			}
			if s := OfShots(h, 1); len(s.Odd) > 0 || s.Jump > 0 || s.Slope {
				t.Fatalf("%s: told below the least difference: %+v", c.name, s)
			}
		}
		if told < 170 {
			t.Errorf("%s: told %d of 200", c.name, told)
		}
	}
}
