package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/fit/fittest"
)

// randomNetwork draws parts and second-order terms far wider than a timer's, each term absent half of the time, so that
// kinks, overshoots and stuck circuits all occur.
func randomNetwork(rng *rand.Rand, circuit string) fittest.Network {
	n := fittest.Network{Circuit: circuit, Supply: 5 + 10*rng.Float64(), C: 1e-7}
	n.R1 = math.Exp(math.Log(1e3) + 4*rng.Float64())
	n.R2 = math.Exp(math.Log(1e3) + 4*rng.Float64())
	n.Upper = 0.4 + 0.5*rng.Float64()
	n.Lower = n.Upper * (0.3 + 0.4*rng.Float64())
	n.OutputHigh, n.Reference = n.Supply, n.Supply/2
	n.C2, n.Feedback, n.BaseEmitter, n.Breakdown = 3e-8, 0.1+0.8*rng.Float64(), 0.7*rng.Float64(), pick(rng, 0, 5+5*rng.Float64())
	r := n.R1 + n.R2
	for _, some := range []func(){
		func() { n.Saturation = 0.4 * rng.Float64() },
		func() { n.OnResistance = 50 * rng.Float64() },
		func() { n.Weak = n.R2 * rng.Float64() },
		func() { n.DelayFall = 0.3 * r * n.C * rng.Float64() },
		func() { n.DelayRise = 0.3 * r * n.C * rng.Float64() },
		func() { n.Bias = 0.05 * n.Supply / r * (rng.Float64() - 0.3) },
		func() { n.Leak = r * (2 + 20*rng.Float64()) },
		func() { n.Diode = rng.Float64() },
		func() { n.OutputHigh = n.Supply * (0.7 + 0.3*rng.Float64()) },
		func() { n.OutputLow = 0.3 * rng.Float64() },
	} {
		if rng.IntN(2) == 0 {
			some()
		}
	}
	switch kind := rng.IntN(4); {
	case circuit == fittest.Multivibrator:
	case kind == 0:
		n.Contact = r * rng.Float64()
	case kind == 1:
		n.Stray = 0.1 * n.C * rng.Float64()
	}
	return n
}

// The closed form against the integration of Kirchhoff's law, with all terms at once.
func TestTimesAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	for _, circuit := range Circuits {
		ran, stuck := 0, 0
		for range 400 {
			n := randomNetwork(rng, circuit)
			high, low, err := fittest.Integrate(n)
			h, l, ok := Times(&n)
			if ok != (err == nil) {
				t.Fatalf("closed form runs: %v, integration: %v\n%+v", ok, err, n)
			}
			if !ok {
				stuck++
				continue
			}
			ran++
			if n.Contact == 0 && circuit != fittest.Multivibrator && circuit != fittest.Monostable {
				above, below, err := fittest.Midway(n)
				a, b, ok := midway(&n)
				if !ok || err != nil || math.Abs(a/above-1) > 1e-9 || math.Abs(b/below-1) > 1e-9 {
					t.Errorf("midway %.12g %.12g, integration %.12g %.12g, %v\n%+v", a, b, above, below, err, n)
				}
			}
			// 1e-9: a step of the integration that straddles the diode's kink is of first order.
			if math.Abs(h/high-1) > 1e-9 || low != 0 && math.Abs(l/low-1) > 1e-9 {
				t.Errorf("closed form %.12g %.12g, integration %.12g %.12g\n%+v", h, l, high, low, n)
			}
		}
		if ran < 100 || slices.Contains([]string{fittest.Astable, fittest.AstableDiode, fittest.Monostable}, circuit) && stuck == 0 {
			t.Errorf("%s: %d ran, %d stuck: the draw no longer covers both", circuit, ran, stuck)
		}
	}
}

func BenchmarkTimes(b *testing.B) {
	n := randomNetwork(rand.New(rand.NewPCG(1, 1)), fittest.Astable)
	for b.Loop() {
		Times(&n)
	}
}
