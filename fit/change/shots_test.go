package change

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
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
		const trains = 2000
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
		if wrong > trains/1000+5 { // 3.5 standard deviations above
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

// The line through the corrections of a thermometer has the slope and the standard uncertainty that JCGM 100, H.3, prints (testdata/published/gum_examples.toml).
func TestLineOfTheGuide(t *testing.T) {
	x := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	y := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	if b, u := line(x, y); !(math.Abs(b-0.00218) <= 0.5e-5) || !(math.Abs(u-0.00067) <= 0.5e-5) {
		t.Errorf("%v ± %v, the Guide: 0.00218 ± 0.00067", b, u)
	}
}

// pooled is by how much the second of two samples' means is above the first, with the pooled standard uncertainty (Student 1908).
func pooled(a, b []float64) (by, u float64) {
	ma, va := stat.MeanVariance(a, nil)
	mb, vb := stat.MeanVariance(b, nil)
	na, nb := float64(len(a)), float64(len(b))
	return mb - ma, math.Sqrt((va*(na-1) + vb*(nb-1)) / (na + nb - 2) * (1/na + 1/nb))
}

// What is told begins where Student's distribution has it so, by the chance that is allowed over the places that it might be at (Bonferroni):
// a jump at n - 3 of them, a jump and its return at the square of that, a slope at one, one pulse off at n, by its distance from the others.
func TestShotsAreToldFromWhereOn(t *testing.T) {
	noise := []float64{0.3, -0.9, 0.8, -0.2, -0.6, 0.7, 0.1, -0.8, 0.9, -0.3, 0.5, -0.6, -0.1, 0.6}
	tail := func(by, u float64, freedom int) float64 {
		return 2 * distuv.StudentsT{Sigma: 1, Nu: float64(freedom)}.Survival(math.Abs(by/u))
	}
	for name, c := range map[string]struct {
		pulses int
		form   func(i int) float64
		is     func(s Shots) bool
		chance func(y []float64, s Shots) float64
	}{
		"up": {10, func(i int) float64 { return float64(min(i/5, 1)) }, func(s Shots) bool { return s.Jump == 5 && s.Back == 0 },
			func(y []float64, s Shots) float64 { b, u := pooled(y[:5], y[5:]); return 7 * tail(b, u, 8) }},
		"least": {6, func(i int) float64 { return float64(min(i/4, 1)) }, func(s Shots) bool { return s.Jump == 4 && s.Back == 0 },
			func(y []float64, s Shots) float64 { b, u := pooled(y[:4], y[4:]); return 3 * tail(b, u, 4) }},
		"return": {14, func(i int) float64 { return float64(min(i/5, 1) * (1 - i/9)) }, func(s Shots) bool { return s.Jump == 5 && s.Back == 9 },
			func(y []float64, s Shots) float64 {
				b, u := pooled(slices.Concat(y[:5], y[9:]), y[5:9])
				return 121 * tail(b, u, 12)
			}},
		"slope": {14, func(i int) float64 { return float64(i) / 13 }, func(s Shots) bool { return s.Slope && s.Jump == 0 },
			func(y []float64, s Shots) float64 { return tail(s.By, s.Uncertainty, 12) }},
		"odd": {9, func(i int) float64 { return float64(i / 6 * (1 - i/7)) }, func(s Shots) bool { return slices.Equal(s.Odd, []int{6}) && s.Jump == 0 && !s.Slope },
			func(y []float64, s Shots) float64 {
				m, v := stat.MeanVariance(slices.Concat(y[:6], y[7:]), nil)
				return 9 * tail(y[6]-m, math.Sqrt(v*(1+1./8)), 7)
			}},
	} {
		train := func(size float64) (y []float64) {
			for i := range c.pulses {
				y = append(y, 100+noise[i]+size*c.form(i))
			}
			return y
		}
		lo, hi := 0.0, 40.0
		if !c.is(OfShots(train(hi), 0)) || c.is(OfShots(train(lo), 0)) {
			t.Errorf("%s: %+v and %+v", name, OfShots(train(hi), 0), OfShots(train(lo), 0))
			continue
		}
		for range 40 {
			if mid := (lo + hi) / 2; c.is(OfShots(train(mid), 0)) {
				hi = mid
			} else {
				lo = mid
			}
		}
		s := OfShots(train(hi), 0)
		if p := c.chance(train(hi), s); !(math.Abs(p/2e-4-1) <= 1e-3) {
			t.Errorf("%s: told at a chance of %v: %+v", name, p, s)
		}
		if c.is(OfShots(train(hi), hi*1.5)) {
			t.Errorf("%s: told below the least difference", name)
		}
	}
	// More than a quarter may be odd where no order shows.
	if s := OfShots([]float64{1, 3, 1.01, 0.99, 5, 1.02, 4, 0.98, 1}, 0); !slices.Equal(s.Odd, []int{1, 4, 6}) || s.Jump != 0 || s.Slope {
		t.Errorf("three odd ones of nine: %+v", s)
	}
	// By and Uncertainty are those of the parts; fewer than six show no order, fewer than four nothing.
	y := []float64{1, 1.01, 0.99, 3.01, 2.99, 3}
	b, u := pooled(y[:3], y[3:])
	if s := OfShots(y, 0); s.Jump != 3 || !(math.Abs(s.By-b) <= 1e-12) || !(math.Abs(s.Uncertainty-u) <= 1e-12) {
		t.Errorf("%+v, want %v ± %v", s, b, u)
	}
	if s := OfShots(y[1:], 0); s.Jump != 0 || s.Slope {
		t.Errorf("five pulses: %+v", s)
	}
	if s := OfShots([]float64{1, 1.0001, 0.9999, 9}, 0); !slices.Equal(s.Odd, []int{3}) {
		t.Errorf("four pulses: %+v", s)
	}
	if s := OfShots([]float64{1, 1.0001, 9}, 0); len(s.Odd) > 0 {
		t.Errorf("three pulses: %+v", s)
	}
	// All alike but for a last digit, and two sizes without any scatter.
	for _, last := range []float64{0.1, math.Nextafter(0.1, 1)} {
		if s := OfShots(append(slices.Repeat([]float64{0.1}, 11), last), 0); len(s.Odd) > 0 || s.Jump != 0 || s.Slope {
			t.Errorf("pulses all alike: %+v", s)
		}
	}
	if s := OfShots(slices.Concat(slices.Repeat([]float64{0.1}, 6), slices.Repeat([]float64{0.3}, 6)), 0); s.Jump != 6 || !(math.Abs(s.By-0.2) <= 1e-12) {
		t.Errorf("two sizes: %+v", s)
	}
}

// Pulses of a nanosecond are tested as pulses of a year are.
func TestShotsOfAnyLength(t *testing.T) {
	rnd := rand.New(rand.NewPCG(17, 5))
	h := make([]float64, 14)
	for i := range h {
		h[i] = 1 + 0.002*rnd.NormFloat64()
	}
	h[5] = 1.08
	for _, length := range []float64{1e-9, 1e-4, 1, 3e7} {
		scaled := slices.Clone(h)
		floats.Scale(length, scaled)
		if s := OfShots(scaled, 1e-6*length); !slices.Equal(s.Odd, []int{5}) || s.Jump != 0 || s.Slope {
			t.Errorf("of %g s: %+v, want the sixth odd", length, s)
		}
	}
}
