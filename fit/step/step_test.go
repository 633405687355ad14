package step

import (
	"math"
	"math/rand/v2"
	"testing"
)

// scene makes observations one a second with the mark at 0: white noise, a walk, a step with its settling
// time, all drawn here and not by the model under test.
type scene struct {
	before, after int
	white, walk   float64 // standard deviations: of an observation, of the walk per square root of a second
	step, tau     float64
	drift         float64 // per second
}

func (c scene) draw(rng *rand.Rand) []Observation {
	var obs []Observation
	level := 4e-3
	for i := -c.before; i < c.after; i++ {
		t := float64(i) + 0.5
		level += c.walk * rng.NormFloat64()
		v := level + c.drift*t
		switch {
		case t > 0 && c.tau == 0:
			v += c.step
		case t > 0:
			v += c.step * (1 - math.Exp(-t/c.tau))
		}
		obs = append(obs, Observation{t, v + c.white*rng.NormFloat64(), c.white})
	}
	return obs
}

// TestHonest: over many scenes the error divided by the stated uncertainty has a root mean square near 1. Below
// 1 is caution: neither the walk nor the settling time is known, and where there is none of either the
// uncertainty still allows for it. A linear drift is no part of the model; the walk stands in for it. With
// 500 runs a root mean square has a standard deviation of 0.03 and a coverage one of 1 %, which the bounds allow
// three times.
func TestHonest(t *testing.T) {
	for _, c := range []struct {
		name string
		scene
	}{
		{"white, at once", scene{before: 30, after: 30, white: 1e-6, step: 5e-6}},
		{"white, no step", scene{before: 30, after: 30, white: 1e-6}},
		{"white, few points", scene{before: 5, after: 5, white: 1e-6, step: 20e-6}},
		{"white, slow", scene{before: 30, after: 60, white: 1e-6, step: 40e-6, tau: 8}},
		{"walk as large as the noise", scene{before: 40, after: 40, white: 1e-6, walk: 1e-6, step: 30e-6, tau: 3}},
		{"drift besides", scene{before: 40, after: 40, white: 1e-6, step: 30e-6, drift: 0.1e-6}},
		{"walk alone", scene{before: 40, after: 40, white: 0.1e-6, walk: 1e-6, step: 30e-6}},
	} {
		rng := rand.New(rand.NewPCG(11, 5))
		const runs = 150
		square, covered := 0.0, 0
		for range runs {
			s, err := Fit(c.draw(rng), 0, nil)
			if err != nil {
				t.Fatal(err)
			}
			e := (s.Value - c.step) / s.Uncertainty
			square += e * e / runs
			if math.Abs(e) < 1.96 {
				covered++
			}
		}
		rms, cover := math.Sqrt(square), float64(covered)/runs
		t.Logf("%s: rms %.3f, covered %.1f %%", c.name, rms, 100*cover)
		if rms < 0.65 || rms > 1.25 || cover < 0.89 {
			t.Errorf("%s: error over uncertainty %.3f, covered %.1f %%", c.name, rms, 100*cover)
		}
	}
}

func TestSettling(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	s, err := Fit(scene{before: 30, after: 90, white: 1e-6, step: 200e-6, tau: 12}.draw(rng), 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 200 standard deviations of one observation: the grid's ratio of 1.2 limits the settling time.
	if !(math.Abs(math.Log(s.Settling/12)) <= math.Log(1.2)) || s.Before != 30 || s.After != 90 {
		t.Errorf("%+v, want a settling time of 12 s", s)
	}
}

func TestScaleAndShift(t *testing.T) {
	obs := scene{before: 10, after: 10, white: 1e-6, step: 5e-6}.draw(rand.New(rand.NewPCG(4, 4)))
	want, err := Fit(obs, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range obs {
		obs[i].Time = 7200 + obs[i].Time
		obs[i].Value = 1000*obs[i].Value + 3
		obs[i].Uncertainty *= 1000
	}
	got, err := Fit(obs, 7200, nil)
	if err != nil {
		t.Fatal(err)
	}
	// Times near 7200 s are rounded by 1e-12 s, values near 3 by 4e-16 of 1e-3: parts in 1e12.
	if !(math.Abs(got.Value/want.Value-1000) <= 1e-6) || !(math.Abs(got.Uncertainty/want.Uncertainty-1000) <= 1e-6) {
		t.Errorf("scaled by 1000: %+v became %+v", want, got)
	}
}

// A large step 20 s before the mark, with a settling time of 4 s, must not blur the small one at the mark.
func TestEarlierStep(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	const runs = 300
	square, widest := 0.0, 0.0
	for range runs {
		obs := scene{before: 50, after: 30, white: 1e-6, step: 5e-6}.draw(rng)
		for i := range obs {
			if since := obs[i].Time + 20; since > 0 {
				obs[i].Value += 500e-6 * (1 - math.Exp(-since/4))
			}
		}
		s, err := Fit(obs, 0, &Earlier{-20, 4})
		if err != nil || s.Before != 20 {
			t.Fatal(s, err)
		}
		e := (s.Value - 5e-6) / s.Uncertainty
		square += e * e / runs
		widest = math.Max(widest, s.Uncertainty)
	}
	// 20 and 30 points of white noise tell a step to 1e-6·√(1/20+1/30) = 0.29e-6; not knowing the walk costs
	// up to three times that.
	if rms := math.Sqrt(square); rms < 0.6 || rms > 1.25 || widest > 1e-6 {
		t.Errorf("error over uncertainty %.3f, uncertainty up to %g", rms, widest)
	}
}

func TestTooFew(t *testing.T) {
	for _, c := range []scene{{before: 2, after: 20, white: 1}, {before: 20, after: 2, white: 1}, {}} {
		if _, err := Fit(c.draw(rand.New(rand.NewPCG(1, 1))), 0, nil); err == nil {
			t.Errorf("%d before, %d after: no error", c.before, c.after)
		}
	}
}

func BenchmarkFit(b *testing.B) {
	obs := scene{before: 300, after: 300, white: 1e-6, walk: 1e-7, step: 5e-6, tau: 10}.draw(rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		if _, err := Fit(obs, 0, nil); err != nil {
			b.Fatal(err)
		}
	}
}
