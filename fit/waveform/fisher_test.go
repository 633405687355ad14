package waveform_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/waveform"
)

// run is v = final + amplitude exp(-t/tau), the solution of Kirchhoff's law for a resistor and a capacitor.
type run struct{ final, amplitude, tau float64 }

func (r run) at(t float64) float64    { return r.final + r.amplitude*math.Exp(-t/r.tau) }
func (r run) slope(t float64) float64 { return -r.amplitude / r.tau * math.Exp(-t/r.tau) }

// by is the run's derivative by its three parameters, at t.
func (r run) by(t float64) []float64 {
	e := math.Exp(-t / r.tau)
	return []float64{1, e, r.amplitude * e * t / (r.tau * r.tau)}
}

// known is the inverse of the Fisher information (Cramér-Rao) of samples at half intervals less one at either end.
func (r run) known(samples, times int, step, noise float64) *mat.SymDense {
	f := mat.NewSymDense(3, nil)
	for i := 1; i < samples-1; i++ {
		f.SymRankOne(f, float64(times)/(noise*noise), mat.NewVecDense(3, r.by((float64(i)+0.5)*step)))
	}
	var ch mat.Cholesky
	ch.Factorize(f)
	ch.InverseTo(f)
	return f
}

func quadratic(c *mat.SymDense, g []float64) float64 {
	v := mat.NewVecDense(len(g), g)
	return mat.Inner(v, c, v)
}

// train samples an output and its capacitor: halves of whole numbers of samples, edges half way between two, so that all
// that is uncertain of the runs is the noise. A pulse's capacitor stands still at its low level after it.
func train(cycles, high, low int, step, noise, top float64, up func(t float64) float64, down func(t float64) float64) *acquire.Capture {
	rnd := rand.New(rand.NewPCG(3, 8))
	out, cap := make([]float64, 0, cycles*(high+low)), make([]float64, 0, cycles*(high+low))
	for range cycles {
		for i := range high + low {
			if t := (float64(i) + 0.5) * step; i < high {
				out, cap = append(out, top), append(cap, up(t)+noise*rnd.NormFloat64())
			} else {
				out, cap = append(out, 5-top), append(cap, down(t-float64(high)*step)+noise*rnd.NormFloat64())
			}
		}
	}
	n := high/2 + high + low // a part of a pulse at either end
	return measuretest.FromRows(acquire.Capture{Source: "harbour", Kind: acquire.Samples, Step: step}, nil, out[high/2:len(out)-n+high], cap[high/2:len(out)-n+high])
}

type stated struct {
	name              string
	got               fit.Estimate
	want, uncertainty float64
}

// holds wants values within four of the uncertainties that the Fisher information and the law of propagation
// (JCGM 100, 5.2) give, and the same uncertainties stated: the noise of n residuals is known to 1/sqrt(2n), and one
// sample more or less at the ends of a run moves little.
func holds(t *testing.T, all []stated) {
	t.Helper()
	for _, s := range all {
		if !(math.Abs(s.got.Value-s.want) <= 4*s.uncertainty) {
			t.Errorf("%s: %v, want %v ± %.2g", s.name, s.got.Value, s.want, s.uncertainty)
		}
		if r := s.got.Uncertainty / s.uncertainty; !(r >= 0.9 && r <= 1.1) {
			t.Errorf("%s: stated uncertainty %.3g, want %.3g", s.name, s.got.Uncertainty, s.uncertainty)
		}
	}
}

// Where two runs meet moves with each of them by the slope of the other: from f1(th+s) = f2(s),
// dv = (f1' dv2 - f2' dv1) / (f1' - f2').
func TestUncertaintiesOfTheTurns(t *testing.T) {
	const step, high, low, cycles = 1e-5, 150, 120, 7
	th, tl := high*step, low*step
	for _, c := range []struct {
		top, noise float64
	}{{5, 0.01}, {0, 0.01}, {5, 1e-4}} {
		up := run{final: 5, amplitude: -3.4, tau: 1.2e-3}
		down := run{final: 0.1, amplitude: up.at(th) - 0.1}
		down.tau = tl / math.Log(down.amplitude/(up.at(0)-0.1))
		r, err := waveform.Fit(train(cycles+1, high, low, step, c.noise, c.top, up.at, down.at), waveform.Options{})
		if err != nil {
			t.Fatal(err)
		}
		m := r.Measurement
		uh, ul := m.High.Uncertainty, m.Low.Uncertainty
		if r.Inverted != (c.top == 0) {
			t.Fatalf("output high at %v V while it charges: inverted %v", c.top, r.Inverted)
		}
		if r.Inverted {
			uh, ul = ul, uh
		}
		if r.Cycles < 6 || r.Cycles > 7 || len(r.Notes) == 0 || !strings.Contains(r.Notes[len(r.Notes)-1], "runs of a kind") {
			t.Fatalf("%d runs, %q", r.Cycles, r.Notes)
		}
		ku, kd := up.known(high, r.Cycles, step, c.noise), down.known(low, r.Cycles, step, c.noise)
		turn := func(a, b run, ka, kb *mat.SymDense, span, u float64) float64 {
			fa, fb := a.slope(span), b.slope(0)
			return math.Sqrt(fa*fa*quadratic(kb, b.by(0))+fb*fb*(quadratic(ka, a.by(span))+fa*fa*u*u)) / math.Abs(fa-fb)
		}
		holds(t, []stated{
			{"tau of charge", r.TauCharge, up.tau, math.Sqrt(ku.At(2, 2))},
			{"tau of discharge", r.TauDischarge, down.tau, math.Sqrt(kd.At(2, 2))},
			{"asymptote", r.Asymptote, up.final, math.Sqrt(ku.At(0, 0))},
			{"asymptote of discharge", r.DischargeAsymptote, down.final, math.Sqrt(kd.At(0, 0))},
			{"upper", r.Upper, up.at(th), turn(up, down, ku, kd, th, uh)},
			{"lower", r.Lower, up.at(0), turn(down, up, kd, ku, tl, ul)},
		})
		if !(math.Abs(r.Residual/c.noise-1) <= 0.1) {
			t.Errorf("residual %v V, want the noise, %v V", r.Residual, c.noise)
		}
	}
}

// A pulse a trigger: the charge begins at the low level, ends at the upper threshold when the pulse does, and is emptied at once.
func TestSinglePulses(t *testing.T) {
	const step, high, low, cycles = 1e-5, 180, 97, 8
	for _, noise := range []float64{0.01, 1e-4} {
		up := run{final: 5, amplitude: -4.9, tau: 1.6e-3}
		rest := func(float64) float64 { return up.at(0) }
		r, err := waveform.Fit(train(cycles, high, low, step, noise, 5, up.at, rest), waveform.Options{Measure: measure.Options{SinglePulse: true}})
		if err != nil {
			t.Fatal(err)
		}
		if !r.Single || r.Cycles < 6 || r.Cycles > 7 || r.TauDischarge.Value != 0 || r.Covariance.At(waveform.TauDischarge, waveform.TauDischarge) != 0 {
			t.Fatalf("%+v", r)
		}
		k := up.known(high, r.Cycles, step, noise)
		th := high * step
		holds(t, []stated{
			{"tau", r.TauCharge, up.tau, math.Sqrt(k.At(2, 2))},
			{"asymptote", r.Asymptote, up.final, math.Sqrt(k.At(0, 0))},
			{"start", r.Lower, up.at(0), math.Sqrt(quadratic(k, up.by(0)))},
			{"upper", r.Upper, up.at(th), math.Sqrt(quadratic(k, up.by(th)) + math.Pow(up.slope(th)*r.Measurement.High.Uncertainty, 2))},
		})
		if !(math.Abs(r.Residual/noise-1) <= 0.1) {
			t.Errorf("residual %v V, want the noise, %v V", r.Residual, noise)
		}
	}
	falls := run{final: 0.1, amplitude: 4, tau: 1.6e-3}
	for _, c := range []struct {
		name string
		high int
		up   func(float64) float64
		want string
	}{
		{"a capacitor that falls", high, falls.at, "falls during the pulse"},
		{"a capacitor that stands still", high, func(float64) float64 { return 2 }, ""},
		{"a pulse of nine samples", 9, run{5, -4.9, 8e-5}.at, "no whole charge"},
	} {
		rest := func(float64) float64 { return c.up(0) }
		_, err := waveform.Fit(train(cycles, c.high, low, step, 0.01, 5, c.up, rest), waveform.Options{Measure: measure.Options{SinglePulse: true}})
		if !errors.Is(err, waveform.ErrCurve) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// More points than are kept are averaged in pairs, and again in fours: the runs stay where they are.
func TestLongRecord(t *testing.T) {
	const high, low, cycles = 70_000, 50_000, 21
	up := run{final: 5, amplitude: -3.4, tau: 0.05}
	down := run{amplitude: up.at(high * 1e-6)}
	down.tau = low * 1e-6 / math.Log(down.amplitude/up.at(0))
	level := make([]float64, high+low)
	for i := range level {
		if t := (float64(i) + 0.5) * 1e-6; i < high {
			level[i] = up.at(t)
		} else {
			level[i] = down.at(t - high*1e-6)
		}
	}
	r, err := waveform.Fit(train(cycles, high, low, 1e-6, 0, 5,
		func(t float64) float64 { return level[int(t*1e6)] }, func(t float64) float64 { return level[high+int(t*1e6)] }), waveform.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []stated{{"tau of charge", r.TauCharge, up.tau, 0}, {"tau of discharge", r.TauDischarge, down.tau, 0},
		{"upper", r.Upper, up.at(high * 1e-6), 0}, {"lower", r.Lower, up.at(0), 0}, {"asymptote", r.Asymptote, 5, 0}, {"cycles", fit.Estimate{Value: float64(r.Cycles)}, cycles - 2, 0}} {
		if !(math.Abs(s.got.Value/s.want-1) < 1e-5) { // an edge lies within two of 70,000 rows
			t.Errorf("%s: %v, want %v", s.name, s.got.Value, s.want)
		}
	}
}

// A charge by itself has the same bound; the clock's limit is rectangular (JCGM 100, 4.3.7). It may begin late, not too late.
func TestChargeKnown(t *testing.T) {
	const n, step, noise = 2000, 1e-4, 0.01
	record := func(begin float64, r run) *measure.Curve {
		rnd := rand.New(rand.NewPCG(4, 8))
		c := &measure.Curve{}
		for i := range n {
			at := float64(i) * step
			c.Time, c.Volt = append(c.Time, at), append(c.Volt, r.at(max(at-begin, 0))+noise*rnd.NormFloat64())
		}
		return c
	}
	up := run{final: 5, amplitude: -4, tau: 0.03}
	c, err := waveform.FitCharge(record(0.06, up), 0.01)
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(c.Begin-0.06) <= 0.04*n*step) || !(math.Abs(c.Residual/noise-1) <= 0.1) {
		t.Errorf("begins at %v s with residual %v V, want soon after 0.06 and %v", c.Begin, c.Residual, noise)
	}
	rest := run{up.final, up.amplitude * math.Exp(-(c.Begin-0.06)/up.tau), up.tau}
	k := rest.known(int(math.Round((n*step-c.Begin)/step)), 1, step, noise)
	holds(t, []stated{
		{"tau", c.Tau, up.tau, math.Hypot(math.Sqrt(k.At(2, 2)), up.tau*0.01/math.Sqrt(3))},
		{"final", c.Final, 5, math.Sqrt(k.At(0, 0))},
		{"start", c.Start, rest.at(0), math.Sqrt(quadratic(k, rest.by(0)))},
	})
	// Points that lie about the run by more than half as much again as neighbours differ, and a fiftieth of its swing.
	for rms, fits := range map[float64]bool{0.07: true, 0.12: false} {
		c := record(0, run{5, -4, 0.04})
		for i, at := range c.Time {
			c.Volt[i] += rms * math.Sqrt2 * math.Sin(2*math.Pi*at/0.02)
		}
		if _, err := waveform.FitCharge(c, 0); (err == nil) != fits {
			t.Errorf("a wave of %v V: %v", rms, err)
		}
	}
	for _, s := range []struct {
		begin float64
		r     run
		ok    bool
	}{
		{0.14, run{5, -4, 0.01}, true},
		{0.16, run{5, -4, 0.01}, false}, // less than a quarter of the record is left
		{0, run{5, -4, 0.3}, true},
		{0, run{5, -4, 2}, false},     // ten times as long as the record: a straight line for all that is seen
		{0, run{5, -4, 1e-5}, false},  // over before a sample
		{0.1, run{5, 0, 0.02}, false}, // nothing moves
	} {
		if _, err := waveform.FitCharge(record(s.begin, s.r), 0); (err == nil) != s.ok {
			t.Errorf("begins at %v s, tau %v s: %v", s.begin, s.r.tau, err)
		}
	}
}
