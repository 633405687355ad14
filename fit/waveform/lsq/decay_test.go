package lsq

import (
	"math"
	"testing"
)

// decay is a e^(-t/τ) through as many points as it has parameters, so that both are known by hand: a = 3, τ = 2.
func decay() Problem {
	t, y := []float64{1, 4}, []float64{3 * math.Exp(-0.5), 3 * math.Exp(-2)}
	return Problem{Size: 2, Positive: []bool{false, true}, Residual: func(p, r []float64) {
		for i := range r {
			r[i] = y[i] - p[0]*math.Exp(-t[i]/p[1])
		}
	}}
}

// The zero settings settle on an answer without residuals, whose Jacobian is that of the parameters themselves, not of logarithms.
func TestExactDecay(t *testing.T) {
	got, err := Fit(decay(), []float64{1, 1}, Settings{})
	if err != nil || got.Status != Settled || !(math.Abs(got.P[0]-3) <= 1e-9) || !(math.Abs(got.P[1]-2) <= 1e-9) {
		t.Fatalf("%+v, %v", got, err)
	}
	for i, at := range []float64{1, 4} {
		e := math.Exp(-at / 2)
		if a, tau := got.Jacobian[i][0], got.Jacobian[i][1]; !(math.Abs(a+e) <= 1e-8) || !(math.Abs(tau+3*e*at/4) <= 1e-8) {
			t.Errorf("at %g: d r is %g and %g, want %g and %g", at, a, tau, -e, -3*e*at/4)
		}
	}
	if got.Iterations < 2 || got.Iterations > 100 {
		t.Errorf("%d iterations", got.Iterations)
	}
}

func TestRefusedAndExhausted(t *testing.T) {
	few := decay()
	few.Size = 1
	if _, err := Fit(few, []float64{1, 1}, Settings{}); err != ErrFew {
		t.Error(err)
	}
	for _, start := range [][]float64{{1, 0}, {1, -1}, {math.NaN(), 1}} {
		if _, err := Fit(decay(), start, Settings{}); err != ErrStart {
			t.Errorf("%v: %v", start, err)
		}
	}
	// One iteration from a start that is nearly right is a step towards it, and is not enough.
	got, err := Fit(decay(), []float64{2.9, 2.1}, Settings{Iterations: 1})
	if err != nil || got.Status != Exhausted || got.Iterations != 1 || got.P[0] == 2.9 || math.Hypot(got.P[0]-3, got.P[1]-2) > 0.1 {
		t.Errorf("%+v, %v", got, err)
	}
	// A coarse tolerance settles early.
	coarse, _ := Fit(decay(), []float64{1, 1}, Settings{Tolerance: 0.5})
	fine, _ := Fit(decay(), []float64{1, 1}, Settings{})
	if coarse.Status != Settled || coarse.Iterations >= fine.Iterations {
		t.Errorf("%d iterations to a half, %d to 1e-10", coarse.Iterations, fine.Iterations)
	}
}
