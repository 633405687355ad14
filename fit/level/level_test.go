package level

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// square is n samples of which share are high, with noise, then rounded to the amplitude step code.
func square(n int, share, low, high, noise, code float64, seed uint64) []float64 {
	rnd := rand.New(rand.NewPCG(seed, 1))
	v := make([]float64, n)
	for i := range v {
		v[i] = low
		if float64(i%1000) < share*1000 {
			v[i] = high
		}
		v[i] += noise * rnd.NormFloat64()
		if code > 0 {
			v[i] = math.Round(v[i]/code) * code
		}
	}
	return v
}

func TestFind(t *testing.T) {
	for _, c := range []struct {
		name              string
		share             float64
		low, high         float64
		noise, code, near float64
	}{
		{"clean", 0.5, 0, 5, 0, 0, 1e-12},
		{"noise", 0.4, 0.1, 4.9, 0.1, 0, 0.01},
		{"8 bit", 0.5, 0.13, 4.87, 0, 8.0 / 256, 8.0 / 512},
		{"8 bit, noise dithers", 0.5, 0.13, 4.87, 0.05, 8.0 / 256, 0.005},
		{"short pulses", 0.005, -1, 1, 0.02, 0, 0.01},
		{"long pulses", 0.995, -1, 1, 0.02, 0, 0.01},
		{"much noise", 0.5, 0, 1, 0.12, 0, 0.02},
	} {
		v := square(8192, c.share, c.low, c.high, c.noise, c.code, 3)
		kept := slices.Clone(v)
		e, ok := Find(v)
		if !ok || !e.Dwells {
			t.Errorf("%s: no levels found", c.name)
			continue
		}
		if !(math.Abs(e.Low-c.low) <= c.near) || !(math.Abs(e.High-c.high) <= c.near) {
			t.Errorf("%s: levels %g and %g, want %g and %g", c.name, e.Low, e.High, c.low, c.high)
		}
		if !(math.Abs(e.Reference-(e.Low+e.High)/2) <= 1e-12) || e.Hysteresis < 0.199*(e.High-e.Low) {
			t.Errorf("%s: reference %g, band %g", c.name, e.Reference, e.Hysteresis)
		}
		if c.noise > 0 && !(math.Abs(e.Noise/c.noise-1) <= 0.15) {
			t.Errorf("%s: noise %g, want %g", c.name, e.Noise, c.noise)
		}
		if c.code > 0 && c.noise > 0 && !(math.Abs(e.Quantum/c.code-1) <= 1e-9) {
			t.Errorf("%s: amplitude step %g, want %g", c.name, e.Quantum, c.code)
		}
		if !slices.Equal(v, kept) {
			t.Errorf("%s: the caller's samples were changed", c.name)
		}
	}
}

// Values that no number lies between, and values whose distance is none, are no two levels.
func TestNeighboursAreOneLevel(t *testing.T) {
	for _, c := range [][2]float64{{1, math.Nextafter(1, 2)}, {math.Nextafter(1, 0), 1}, {math.Nextafter(1, 2), math.Nextafter(math.Nextafter(1, 2), 2)}, {-math.MaxFloat64, math.MaxFloat64}} {
		if e, ok := Find(square(100, 0.05, c[0], c[1], 0, 0, 1)); ok {
			t.Errorf("%g and %g are levels: %+v", c[0], c[1], e)
		}
	}
}

// One value beside nine of another is a spike, beside eight a level; of thousands a share of one in 2000 is.
func TestLeastShareOfALevel(t *testing.T) {
	for _, c := range []struct {
		n, of int
		want  bool
	}{{1, 8, true}, {1, 9, false}, {2, 3998, true}, {2, 5998, false}, {3, 5997, true}} {
		for _, sign := range []float64{1, -1} {
			v := make([]float64, c.n+c.of)
			for i := range c.n {
				v[i] = sign
			}
			if e, ok := Find(v); ok != c.want || ok && e.High-e.Low != 1 {
				t.Errorf("%d values of %g beside %d of nothing: levels %g and %g, %v", c.n, sign, c.of, e.Low, e.High, ok)
			}
		}
	}
}

// Where every pulse runs past the range at its end the state within it is the level, be it with few samples past it or with many.
func TestOvershootPastTheRange(t *testing.T) {
	var v []float64
	for range 50 {
		v = append(v, slices.Concat(make([]float64, 10), slices.Repeat([]float64{5}, 9), slices.Repeat([]float64{math.Inf(1)}, 8))...)
	}
	if e, ok := Find(v); !ok || e.Clipped || e.Low != 0 || e.High != 5 {
		t.Errorf("%+v", e)
	}
}

// A few spikes far outside do not pull a level away.
func TestSpikes(t *testing.T) {
	v := square(8192, 0.5, 0, 5, 0.05, 0, 1)
	v[100], v[5000] = 40, -17
	e, ok := Find(v)
	if !ok || !(math.Abs(e.High-5) <= 0.01) || !(math.Abs(e.Low) <= 0.01) {
		t.Errorf("levels %g and %g, want 0 and 5", e.Low, e.High)
	}
}

func TestOneLevelIsNone(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 2))
	noise, slope := make([]float64, 8192), make([]float64, 8192)
	for i := range noise {
		noise[i] = rnd.NormFloat64()
		slope[i] = math.Abs(math.Mod(float64(i), 100) - 50)
	}
	for name, v := range map[string][]float64{
		"nothing": nil, "constant": make([]float64, 50), "noise": noise, "triangle": slope, "unknown": {math.NaN(), math.NaN()},
	} {
		if e, ok := Find(v); ok {
			t.Errorf("%s: levels %g and %g", name, e.Low, e.High)
		}
	}
	if e, ok := Extremes(slope); !ok || !(math.Abs(e.Reference-25) <= 0.6) {
		t.Errorf("triangle: extremes %g and %g", e.Low, e.High)
	}
	if _, ok := Extremes(noise); ok {
		t.Error("noise has extremes")
	}
}

// The stated uncertainty of a level, over many draws.
func TestUncertainty(t *testing.T) {
	var s, n float64
	for seed := range uint64(200) {
		e, ok := Find(square(2000, 0.5, 0.011*float64(seed%17), 5, 0.1, 8.0/256, seed))
		if !ok {
			t.Fatal("no levels")
		}
		z := (e.High - 5) / e.Uncertainty[1]
		s += z * z
		n++
	}
	if r := math.Sqrt(s / n); r < 0.8 || r > 1.3 { // 200 normal values: ±0.1 at two sigma; the mode's window adds a little
		t.Errorf("error over stated uncertainty has root mean square %.2f", r)
	}
}

// The converter's step, where slopes are met so seldom that most of their codes are not, and where the values were printed with few
// digits.
func TestStepBesideSlopes(t *testing.T) {
	for seed := range uint64(100) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		code := 8.0 / float64(int(1)<<(8+rnd.IntN(5)))
		digits := code / 20 * rnd.Float64() // that a value is printed to
		v := square(8192, 0.5, rnd.Float64(), 5, (0.6+2*rnd.Float64())*code, code, seed)
		for i := range v {
			if rnd.Float64() < 0.1 {
				v[i] = math.Round(5*rnd.Float64()/code) * code
			}
			v[i] = math.Round(v[i]/digits) * digits
		}
		if e, ok := Find(v); !ok || !(math.Abs(e.Quantum/code-1) <= 0.02) {
			t.Errorf("amplitude step %g, want %g, printed to %g", e.Quantum, code, digits)
		}
	}
}
