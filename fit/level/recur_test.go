package level_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/level"
)

// A ramp, a saw or a sine is told from noise however far apart its samples lie, and is not taken for an output; noise, a
// wander and a drift show no waveform; and an output dwells, however noisy.
func TestCoarseWaveformsAreNotNoise(t *testing.T) {
	shapes := []struct {
		name string
		at   func(p float64) float64
	}{
		{"ramp", func(p float64) float64 { return min(p/0.6, (1-p)/0.4) }},
		{"saw", func(p float64) float64 { return p }},
		{"sine", func(p float64) float64 { return 0.5 + 0.5*math.Sin(2*math.Pi*p) }},
	}
	rnd := rand.New(rand.NewPCG(11, 12))
	for _, shape := range shapes {
		for _, each := range []float64{7.3, 9.13, 12.2, 20.4, 61.7, 400.3} {
			for _, noise := range []float64{0, 0.02, 0.03, 0.03, 0.03, 0.03, 0.04, 0.04, 0.04, 0.05, 0.05, 0.05, 0.1} {
				v := make([]float64, int(20*each))
				for i := range v {
					_, p := math.Modf(float64(i) / each)
					v[i] = 1.7 + 1.7*(shape.at(p)+noise*rnd.NormFloat64())
				}
				e, dwells := level.Find(v)
				if _, ok := level.Extremes(v); !ok || dwells && !e.Ramps {
					t.Errorf("%s at %g samples a cycle, noise %g: a waveform %v, dwells %v", shape.name, each, noise, ok, dwells)
				}
			}
		}
	}
	taken := 0
	for range 1000 {
		n := 64 + rnd.IntN(400)
		v, wander := make([]float64, n), make([]float64, n)
		for i := range v {
			v[i] = rnd.NormFloat64()
			wander[i] = rnd.NormFloat64()
			if i > 0 {
				wander[i] += wander[i-1]
			}
		}
		if _, ok := level.Extremes(v); ok {
			taken++
		}
		for i := range v {
			v[i] += float64(i) / float64(n)
		}
		if _, ok := level.Extremes(v); ok {
			taken++
		}
		if r := level.Recurring(wander); r {
			taken++
		}
	}
	if taken > 1 {
		t.Errorf("noise, a drift or a wander of 1000 each was taken for a waveform %d times", taken)
	}
	for _, noise := range []float64{0, 0.05, 0.15} {
		for _, each := range []float64{7.3, 12.2, 61.7} {
			v := make([]float64, 3000)
			for i := range v {
				if _, p := math.Modf(float64(i) / each); p < 0.6 {
					v[i] = 4.9
				}
				v[i] += 4.9 * noise * rnd.NormFloat64()
			}
			if e, ok := level.Find(v); !ok || e.Ramps {
				t.Errorf("an output at %g samples a cycle, noise %g: dwells %v, a ramp %v", each, noise, ok, e.Ramps)
			}
		}
	}
}
