package level_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/level"
)

// Of an output with edges that last samples, and pulses not much longer, most samples about a level lie on slopes: its place and
// its stated uncertainty are right for all that, with noise and without, rounded or not.
func TestLevelsBesideSlopes(t *testing.T) {
	const low, high = 0.08, 4.9
	rnd := rand.New(rand.NewPCG(21, 22))
	square, count, most := 0.0, 0.0, 0.0
	for range 400 {
		each, duty := 8+20*rnd.Float64(), 0.3+0.4*rnd.Float64()
		rise := (0.2 + 0.4*rnd.Float64()) * each * min(duty, 1-duty)
		noise, quantum := 0.002*math.Pow(30, rnd.Float64()), [...]float64{0, 8.0 / 4096, 8.0 / 256}[rnd.IntN(3)]
		v := make([]float64, int(each*(20+200*rnd.Float64())))
		start := rnd.Float64() * each
		for i := range v {
			p := math.Mod(float64(i)+start, each)
			s := min(p/rise, 1)
			if p >= duty*each {
				s = max(1-(p-duty*each)/rise, 0)
			}
			v[i] = low + (high-low)*s + noise*rnd.NormFloat64()
			if quantum > 0 {
				v[i] = quantum * math.Round(v[i]/quantum)
			}
		}
		e, ok := level.Find(v)
		if !ok {
			continue
		}
		if e.Ramps {
			t.Errorf("edges of %.2g in %.2g samples are a ramp", rise, each)
		}
		for k, d := range []float64{e.Low - low, e.High - high} {
			z := d / e.Uncertainty[k]
			square, count, most = square+z*z, count+1, max(most, math.Abs(d))
		}
	}
	if rms := math.Sqrt(square / count); count < 600 || !(rms < 1.6) || most > 0.03 {
		t.Errorf("%g levels: error over uncertainty %.2f rms, %.2g V at most", count, rms, most)
	}
}
