package verdict

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit"
)

func measurement(period, u float64) *fit.Measurement {
	return &fit.Measurement{High: fit.Estimate{Value: period / 2, Uncertainty: u / math.Sqrt2, Count: 50}, Low: fit.Estimate{Value: period / 2, Uncertainty: u / math.Sqrt2, Count: 50}}
}

func TestDecide(t *testing.T) {
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}}
	for _, c := range []struct {
		period, u float64
		want      string
	}{
		{1.00, 0.001, Pass},
		{1.027, 0.001, Pass},
		{1.029, 0.001, Undecided}, // inside the limit, but by less than 2u
		{1.031, 0.001, Undecided},
		{1.033, 0.001, Fail},
		{0.969, 0.001, Undecided},
		{0.967, 0.001, Fail},
		{1.00, 0.02, Undecided}, // the guard bands leave nothing to pass in
		{1.50, 0.02, Fail},
	} {
		v, err := Decide(target, measurement(c.period, c.u), false)
		if err != nil {
			t.Fatal(err)
		}
		if v.Result != c.want {
			t.Errorf("period %v ± %v: %s, want %s", c.period, c.u, v.Result, c.want)
		}
	}
	v, err := Decide(nil, measurement(1, 0.1), false)
	if err != nil || v.Result != None {
		t.Errorf("without a target: %v, %v", v, err)
	}
}

// JCGM 106 / ILAC-G8: measured on the guarded acceptance limit with w = U = 2u, the item is outside with a
// chance of 1 - Phi(2) = 0.0228; measured just on the tolerance limit, of 0.5.
func TestFalseAcceptance(t *testing.T) {
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0, High: 1.03}}
	check := func(period, want float64) {
		t.Helper()
		v, err := Decide(target, measurement(period, 0.001), false)
		if err != nil {
			t.Fatal(err)
		}
		if got := 1 - v.Each[0].ProbabilityIn; math.Abs(got-want) > 1e-4 {
			t.Errorf("measured at %v: outside with probability %.5f, want %.5f", period, got, want)
		}
	}
	check(1.028, 0.02275)
	check(1.03, 0.5)
}

// Over many true values and measurement errors no more than 2.3 % of boards whose truth sits on the limit pass.
func TestGuardBandHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}}
	passed := 0
	const n = 20000
	for range n {
		v, err := Decide(target, measurement(1.03+0.001*rng.NormFloat64(), 0.001), false)
		if err != nil {
			t.Fatal(err)
		}
		if v.Result == Pass {
			passed++
		}
	}
	if share := float64(passed) / n; share > 0.0228+4*math.Sqrt(0.0228/n) || share < 0.0228-4*math.Sqrt(0.0228/n) {
		t.Errorf("%.4f of boards on the limit pass, want 0.0228", share)
	}
}

func TestWorstDecides(t *testing.T) {
	targets := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}, {Quantity: "duty_factor", Value: 0.6, Low: 0.58, High: 0.62}}
	v, err := Decide(targets, measurement(1, 0.001), false)
	if err != nil || v.Result != Fail || v.Quantity != "duty_factor" || len(v.Each) != 2 {
		t.Errorf("got %+v, %v; want fail on duty_factor", v, err)
	}
	if _, err := Decide(targets, measurement(1, 0.001), true); err == nil {
		t.Error("a monostable was judged by its period")
	}
	if _, err := Decide([]fit.Target{{Quantity: "loudness"}}, measurement(1, 0.1), false); err == nil {
		t.Error("an unknown quantity was judged")
	}
}
