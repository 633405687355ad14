package measure_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// tries is how many captures of each strange world are drawn: of 20, a world that passes in one of seven is seen with 95 %;
// make honesty draws more.
var tries = draws(20)

// draws is how many captures a test looks at: as many as its limits need, or what a study asks for.
func draws(usual int) int {
	if n, err := strconv.Atoi(os.Getenv("OFFBEAT_STUDY")); err == nil && n > 0 {
		return n
	}
	return usual
}

// Noise on a quiet line is never an oscillation, whatever its codes, its memory and its record; but two cycles of it that
// are alike by chance show nothing.
func TestNoiseIsNoTrain(t *testing.T) {
	for _, world := range Noises() {
		passed := 0
		for seed := range uint64(tries) {
			m, err := measure.Run(world.Draw(rand.New(rand.NewPCG(seed, 11))), measure.Options{})
			if err == nil && m.Cycles > 2 {
				if passed++; passed < 4 {
					t.Errorf("%s, seed %d: high (%.4g ± %.2g) s, low (%.4g ± %.2g) s, %d cycles, faults %+v", world.Name, seed, m.High.Value, m.High.Uncertainty, m.Low.Value, m.Low.Uncertainty, m.Cycles, m.Faults)
				}
			} else if err != nil {
				reasoned(t, world.Name, err)
			}
		}
		if passed > 0 {
			t.Errorf("%s: %d of %d passed for a train", world.Name, passed, tries)
		}
	}
}

// reasoned wants an error with a place and a reason that is one of ours.
func reasoned(t *testing.T, name string, err error) {
	t.Helper()
	var place *acquire.Error
	if !errors.As(err, &place) || place.File == "" || place.Expect == "" ||
		!errors.Is(err, measure.ErrFlat) && !errors.Is(err, measure.ErrFew) && !errors.Is(err, measure.ErrUnsteady) {
		t.Errorf("%s: error without a place or a reason: %v", name, err)
	}
}

// A train whose times go to and fro has no mean that a ± could be stated for.
func TestModulatedIsNotAveraged(t *testing.T) {
	for _, world := range Modulations() {
		passed := 0
		for seed := range uint64(tries) {
			m, err := measure.Run(world.Draw(rand.New(rand.NewPCG(seed, 12))), measure.Options{})
			if err == nil {
				if passed++; passed < 4 {
					t.Errorf("%s, seed %d: high (%.4g ± %.2g) s, low (%.4g ± %.2g) s, %d cycles, faults %+v", world.Name, seed, m.High.Value, m.High.Uncertainty, m.Low.Value, m.Low.Uncertainty, m.Cycles, m.Faults)
				}
			} else if reasoned(t, world.Name, err); errors.Is(err, measure.ErrFew) {
				t.Errorf("%s, seed %d: %v", world.Name, seed, err)
			}
		}
		if passed > 0 {
			t.Errorf("%s: %d of %d passed for a steady train", world.Name, passed, tries)
		}
	}
}

// Whatever modulates a train, it is refused, or it is said and the uncertainty holds the times that the train would have without, or
// the uncertainty holds its mean: no error is beyond four of it, but in some train in two hundred whose modulation is less than a
// sample, so that rounding could make it. OFFBEAT_STUDY is how many are drawn.
func TestModulationIsHeld(t *testing.T) {
	trains := draws(40)
	said, refused, missed := 0, 0, 0
	for seed := range uint64(trains) {
		var r Ripple
		m, err := measure.Run(r.Draw(rand.New(rand.NewPCG(seed, 15))), measure.Options{})
		if err != nil {
			reasoned(t, "ripple", err)
			refused++
			continue
		}
		off := func(high, low float64) float64 {
			return max(math.Abs(m.Period().Value-high-low)/m.Period().Uncertainty, math.Abs(m.High.Value-high)/m.High.Uncertainty, math.Abs(m.Low.Value-low)/m.Low.Uncertainty)
		}
		z := min(off(r.Mean[0], r.Mean[1]), off(r.Long[0], r.Long[1]))
		if m.Slow.Amplitude > 0 {
			said++
			z = off(r.High, r.Low)
		}
		if z > 4 {
			missed++
			t.Logf("seed %d: %.1f of the uncertainty off; modulated %v, %d changes", seed, z, m.Slow.Modulation, len(m.Changes))
		}
	}
	if said < trains/12 || refused < trains/6 || missed > trains/50 {
		t.Errorf("of %d modulated trains %d were said to be, %d refused, of %d ± misses", trains, said, refused, missed)
	}
	t.Logf("of %d modulated trains %d were said to be, %d refused, of %d ± misses", trains, said, refused, missed)
}

// A gate that lets a running train through at any moment cuts the first and the last pulse of its bursts: their lengths are the
// gate's, and no times of the train. That the train goes on between them is seen, and counts: bursts that keep in step with the
// samples are all rounded alike (of the first twenty here three lie beyond four uncertainties where each is taken for itself).
func TestGatedBursts(t *testing.T) {
	measured := 0
	for seed := range uint64(tries) {
		rnd := rand.New(rand.NewPCG(50+seed, 16))
		high, on, off := 0.3+0.4*rnd.Float64(), 5.2+4*rnd.Float64(), 5+15*rnd.Float64()
		step := 1 / (150 + 300*rnd.Float64())
		v := make([]float64, int(12*(on+off)/step))
		for i := range v {
			x := float64(i) * step
			if _, of := math.Modf(x + 0.37); math.Mod(x+off/2, on+off) < on && of < high {
				v[i] = 3.3
			}
		}
		m, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: "gated", Kind: acquire.Samples, Step: step}, nil, v), measure.Options{})
		if err != nil {
			t.Logf("seed %d: %v", seed, err)
			continue
		}
		measured++
		if !strings.Contains(strings.Join(m.Notes, "\n"), "without each one's first and last pulse") {
			t.Errorf("seed %d: what is left out is not said: %q", seed, m.Notes)
		}
		for _, c := range []struct {
			name string
			fit.Estimate
			want float64
		}{{"high", m.High, high}, {"low", m.Low, 1 - high}, {"period", m.Period(), 1}} {
			if !(math.Abs(c.Value-c.want) <= 4*c.Uncertainty) || c.Uncertainty > step {
				t.Errorf("seed %d: %s time %.5f ± %.2g, is %.5f", seed, c.name, c.Value, c.Uncertainty, c.want)
			}
		}
	}
	if measured < tries*9/10 {
		t.Errorf("%d of %d were measured", measured, tries)
	}
}

// Bursts are called bursts; their own train is measured where they have one.
func TestBursts(t *testing.T) {
	alike, unlike := 0, 0
	for seed := range uint64(2 * tries) {
		c, high, low := Packets(rand.New(rand.NewPCG(seed, 13)), false)
		m, err := measure.Run(c, measure.Options{})
		switch {
		case err != nil:
			t.Logf("seed %d: %v", seed, err)
			continue
		case !strings.Contains(strings.Join(m.Notes, "\n"), "bursts"):
			t.Errorf("seed %d: bursts are not noted: %q", seed, m.Notes)
		case !(math.Abs(m.High.Value-high) <= 5*m.High.Uncertainty) || !(math.Abs(m.Low.Value-low) <= 5*m.Low.Uncertainty):
			t.Errorf("seed %d: high %.4f ± %.2g, is %.4f; low %.4f ± %.2g, is %.4f", seed, m.High.Value, m.High.Uncertainty, high, m.Low.Value, m.Low.Uncertainty, low)
		}
		alike++
	}
	for seed := range uint64(tries) {
		c, _, _ := Packets(rand.New(rand.NewPCG(seed, 14)), true)
		if _, err := measure.Run(c, measure.Options{}); err != nil && strings.Contains(err.Error(), "bursts") {
			unlike++
		} else {
			t.Logf("unlike, seed %d: %v", seed, err)
		}
	}
	if alike < 2*tries*9/10 || unlike < tries*9/10 {
		t.Errorf("of %d captures of bursts that are alike %d were measured, of %d that are unlike %d refused", 2*tries, alike, tries, unlike)
	}
}
