package level

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What recurs is told from what does not, whatever its mean: a sine recurs with an autocorrelation of 1 / (1 + 2 σ²) about its periods, wherever
// these lie within a quarter of the samples; a slope, a step, noise and what comes again less than four times do not.
func TestRecurring(t *testing.T) {
	const n = 600
	sine := func(period float64) func(x float64) float64 {
		return func(x float64) float64 { return math.Sin(2 * math.Pi * x / period) }
	}
	few := make([]float64, fewestRecur)
	for i := range few {
		few[i] = sine(12)(float64(i))
	}
	if !recurring(few) || recurring(few[1:]) {
		t.Errorf("%d samples recur: %v, one less %v", len(few), recurring(few), recurring(few[1:]))
	}
	for _, mean := range []float64{0, 3, -40} {
		for _, c := range []struct {
			name  string
			of    func(x float64) float64
			noise float64
			want  bool
		}{
			{"a sine", sine(20), 0.1, true}, {"four times", sine(144), 0.3, true}, {"three times", sine(200), 0.1, false},
			{"of 0.75", sine(20), 0.41, true}, {"of 0.45", sine(20), 0.78, false},
			{"a slope", func(x float64) float64 { return x / n }, 0.01, false}, {"a step", func(x float64) float64 { return math.Floor(2 * x / n) }, 0.01, false},
			{"noise", func(float64) float64 { return 0 }, 1, false},
		} {
			rnd := rand.New(rand.NewPCG(7, 52))
			v := make([]float64, n)
			for i := range v {
				v[i] = mean + c.of(float64(i)) + c.noise*rnd.NormFloat64()
			}
			if got := recurring(v); got != c.want {
				t.Errorf("%s about %g: recurs %v", c.name, mean, got)
			}
			if recurring(v[:fewestRecur-1]) {
				t.Errorf("%s: so few samples recur", c.name)
			}
		}
	}
}
