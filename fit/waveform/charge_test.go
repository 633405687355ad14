package waveform_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/waveform"
)

// curveOf measures samples of a function of the time and wants what is no pulse train.
func curveOf(t *testing.T, rnd *rand.Rand, rows int, noise, code float64, of func(x float64) float64) (*measure.Curve, error) {
	t.Helper()
	v := make([]float64, rows)
	for i := range v {
		v[i] = of(float64(i)*1e-4) + noise*rnd.NormFloat64()
		if code > 0 {
			v[i] = math.Round(v[i]/code) * code
		}
	}
	_, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: "curve", Kind: acquire.Samples, Step: 1e-4}, nil, v), measure.Options{})
	var c *measure.Curve
	errors.As(err, &c)
	return c, err
}

// A charge or a discharge by itself, recorded from before its beginning or from the middle of it: time constant and final
// voltage hold with their uncertainties. The truth is the exponential solution of Kirchhoff's law for a resistor and a capacitor.
func TestChargeAlone(t *testing.T) {
	var n, tau, final float64
	for seed := range uint64(24) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		rows := 800 + rnd.IntN(20_000)
		length := float64(rows) * 1e-4
		want, from, to := length*(0.1+0.25*rnd.Float64()), 3*rnd.Float64(), 4+2*rnd.Float64()
		if rnd.IntN(2) == 0 {
			from, to = to, from
		}
		begin := 0.2 * length * float64(rnd.IntN(2)) * rnd.Float64()
		c, err := curveOf(t, rnd, rows, 0.005+0.02*rnd.Float64(), 8.0/256*float64(rnd.IntN(2)), func(x float64) float64 {
			return to + (from-to)*math.Exp(-max(x-begin, 0)/want)
		})
		if c == nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if c.Ramp || !errors.Is(err, measure.ErrFlat) || !strings.Contains(err.Error(), "one curve") {
			t.Fatalf("seed %d: %v", seed, err)
		}
		r, err := waveform.FitCharge(c, 0)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		z1, z2 := (r.Tau.Value-want)/r.Tau.Uncertainty, (r.Final.Value-to)/r.Final.Uncertainty
		n, tau, final = n+1, tau+z1*z1, final+z2*z2
	}
	if a, b := math.Sqrt(tau/n), math.Sqrt(final/n); a < 0.75 || a > 1.25 || b < 0.75 || b > 1.25 {
		t.Errorf("error over stated uncertainty has root mean square %.2f (time constant), %.2f (final voltage)", a, b)
	}
}

// A ramp is called a ramp, noise and a flat line are not, and what bends otherwise has no time constant.
func TestRampsAndOthers(t *testing.T) {
	for seed := range uint64(4) {
		rnd := rand.New(rand.NewPCG(seed, 7))
		slope := (1 + rnd.Float64()) * float64(1-2*rnd.IntN(2))
		c, err := curveOf(t, rnd, 5000, 0.01, 8.0/256*float64(rnd.IntN(2)), func(x float64) float64 { return 2 + slope*x })
		if c == nil || !c.Ramp || !strings.Contains(err.Error(), "ramp") {
			t.Errorf("a ramp: %v", err)
		} else if _, err := waveform.FitCharge(c, 0); err == nil {
			t.Error("a ramp has a time constant")
		}
		if c, err := curveOf(t, rnd, 5000, 0.1, 0, func(float64) float64 { return 2 }); c != nil {
			t.Errorf("noise: %v", err)
		}
		if c, err := curveOf(t, rnd, 5000, 0.01, 0, func(x float64) float64 { return 5 * x * x * x }); c != nil {
			if _, fitted := waveform.FitCharge(c, 0); fitted == nil {
				t.Errorf("a cubic has a time constant: %v", err)
			}
		}
	}
}

// A curve whose times stand still has no time constant, whatever its voltages do.
func TestCurveWithoutTime(t *testing.T) {
	for last := range 2 {
		c := &measure.Curve{Time: make([]float64, 200), Volt: make([]float64, 200)}
		for i := range c.Volt {
			c.Volt[i] = 5 - 5*math.Exp(-float64(i)/50)
		}
		c.Time[199] = float64(last)
		if r, err := waveform.FitCharge(c, 0); !errors.Is(err, waveform.ErrBend) {
			t.Errorf("%d s at last: %+v, %v", last, r, err)
		}
	}
}
