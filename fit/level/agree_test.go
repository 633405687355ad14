package level

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit"
)

// TestAgree: samples about the levels agree; levels that moved by a tenth of the amplitude, which is what a revision
// needs, and clipped samples never do.
func TestAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	known := Estimate{Levels: fit.Levels{Low: 0.2, High: 4.7, Reference: 2.45}}
	samples := func(low, high, noise, duty float64) []float64 {
		v := make([]float64, 1024)
		for i := range v {
			v[i] = low + noise*r.NormFloat64()
			if r.Float64() < duty {
				v[i] = high + noise*r.NormFloat64()
			}
		}
		return v
	}
	for _, c := range []struct {
		name             string
		low, high, noise float64
		duty             float64
		want             bool
	}{
		{"as known", 0.2, 4.7, 0.1, 0.5, true},
		{"noisy", 0.2, 4.7, 0.4, 0.5, true},
		{"short pulses", 0.2, 4.7, 0.1, 0.03, true},
		{"low only", 0.2, 4.7, 0.1, 0, true},
		{"high moved up", 0.2, 5.15, 0.1, 0.5, false},
		{"high moved down, short pulses", 0.2, 4.25, 0.1, 0.03, false},
		{"low moved", 0.65, 4.7, 0.1, 0.5, false},
		{"both below the reference", 0.2, 2.2, 0.1, 0.5, false},
		{"clipped", 0.2, math.Inf(1), 0.1, 0.5, false},
	} {
		if got := known.Agree(samples(c.low, c.high, c.noise, c.duty)); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
