package fittest

import (
	"math"
	"testing"
)

// dv/dt = 1 + v² from 0 is tan t: not linear, and its event v = 1 lies at pi/4.
func TestSolverTangent(t *testing.T) {
	s := solver{slope: func(v float64) float64 { return 1 + v*v }, tolerance: 1e-14}
	at, err := s.until(0, 0.1, 1)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "event", at, math.Pi/4, 1e-12)
	v, err := s.after(0, 0.1, 1.5)
	if err != nil {
		t.Fatal(err)
	}
	// Near the pole an error of v grows as 1 + v² = 200.
	within(t, "tan 1.5", v, math.Tan(1.5), 1e-10)
}

// The order of the method, seen from halved steps on dv/dt = v: a wrong coefficient lowers it.
func TestSolverOrder(t *testing.T) {
	s := solver{slope: func(v float64) float64 { return v }}
	off := func(h float64) float64 { v, _ := s.step(1, h); return math.Abs(v - math.Exp(h)) }
	if order := math.Log2(off(0.2) / off(0.1)); math.Abs(order-6) > 0.2 {
		t.Errorf("local error of order %.2f, want 6", order)
	}
	estimate := func(h float64) float64 { _, e := s.step(1, h); return e }
	if order := math.Log2(estimate(0.2) / estimate(0.1)); math.Abs(order-5) > 0.2 {
		t.Errorf("error estimate of order %.2f, want 5", order)
	}
}

// A right side that isn't finite ends in an error, not in a number.
func TestSolverGivesUp(t *testing.T) {
	s := solver{slope: func(v float64) float64 { return math.NaN() }, tolerance: 1e-13}
	if _, err := s.until(0, 0.1, 1); err == nil {
		t.Error("no error from a slope that is not a number")
	}
}
