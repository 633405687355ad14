package stability

import (
	"math"
	"math/rand/v2"
	"testing"
)

// noisy is a series of 2048 periods of 10 ms with a noise whose law is known: what is simulated is the definition of the noise,
// and the deviation at 1 s follows from it by NIST SP 1065.
func noisy(power float64, rng *rand.Rand) (start []float64, deviation float64) {
	const n, period = 2048, 10e-3
	t, y := 0.0, 0.0
	for range n {
		late := 0.0
		step := period * (1 + y)
		switch power {
		case -1:
			late, deviation = 1e-6*rng.NormFloat64(), math.Sqrt(3)*1e-6
		case -0.5:
			step += 1e-6 * rng.NormFloat64()
			deviation = 1e-6 / math.Sqrt(period)
		case 0.5: // random walk of the frequency, by q each period: q √(τ / (3 T))
			y += 1e-5 * rng.NormFloat64()
			deviation = 1e-5 / math.Sqrt(3*period)
		case 1:
			y += 1e-6
			deviation = 1e-6 / period / math.Sqrt2
		}
		start = append(start, t+late)
		t += step
	}
	return start, deviation
}

// Each kind of noise is found by itself, with its amplitude, in 19 of 20 records; an added drift is found beside it.
func TestLawsOfKnownNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, power := range []float64{-1, -0.5, 0.5, 1} {
		found, alone, both := 0, 0, 0
		const tries = 40
		for range tries {
			start, want := noisy(power, rng)
			s := train(len(start), 0, 0, 0, func(t float64) float64 { return t }, 1)
			s.Start = start
			laws := Laws(Family(s))
			for _, l := range laws {
				if l.Power == power && math.Abs(l.Deviation/want-1) < 0.3 {
					found++
				}
			}
			if len(laws) == 1 || power == 0.5 { // a step each period is no walk within one: at short times it shows something else too
				alone++
			}
			if power < 0 {
				for i, at := range s.Start {
					s.Start[i] += 5e-5 * at * at / 2
				}
				laws = Laws(Family(s))
				if last := laws[len(laws)-1]; len(laws) == 2 && laws[0].Power == power && last.Power == 1 && math.Abs(last.Deviation*math.Sqrt2/5e-5-1) < 0.2 {
					both++
				}
			}
		}
		if found < tries*9/10 || alone < tries*9/10 || power < 0 && both < tries*9/10 {
			t.Errorf("power %g: found in %d of %d, alone in %d, beside a drift in %d", power, found, tries, alone, both)
		}
	}
	if Laws(nil) != nil || Laws([]Point{{Time: 1}}) != nil {
		t.Error("laws of nothing")
	}
}
