package reconcile

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// condition of a kind, its value known within a relative limit.
func condition(kind fit.ConditionKind, part string, value, limit float64) fit.Condition {
	return fit.Condition{Text: part, Kind: kind, Part: part, Known: fit.Reading{Value: value, Half: value * limit}}
}

func runWith(t *testing.T, d *fit.Design, obs ...question.Observation) *compare.Finding {
	t.Helper()
	f, err := foundWith(d, obs)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// For each kind of condition: a real board that one capture leaves in doubt, and the second capture, under the
// condition, that settles it; both timed by integrating Kirchhoff's law.
func TestACaptureUnderConditionsSettles(t *testing.T) {
	base := fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 47.1e3, C: 100.4e-9, Supply: 5}
	for _, c := range []struct {
		name   string
		fault  func(n *fittest.Network)
		second func(n *fittest.Network)
		clock  float64 // factor by which the first instrument reads long
		with   fit.Condition
		cause  string
		parts  []string
	}{
		{"known capacitor across", func(n *fittest.Network) { n.C = 127e-9 }, func(n *fittest.Network) { n.C += 99.6e-9 }, 1,
			condition(fit.InParallel, "C1", 100e-9, 0.01), "shifted", []string{"C1"}},
		{"known capacitor in place", func(n *fittest.Network) { n.Leak = 800e3 }, func(n *fittest.Network) { n.C, n.Leak = 100.3e-9, 0 }, 1,
			condition(fit.Swapped, "C1", 100e-9, 0.004), "leakage", []string{"C1"}},
		{"known resistor across", func(n *fittest.Network) { n.R1 = 11.9e3 }, func(n *fittest.Network) { n.R1 = 1 / (1/n.R1 + 1/10.03e3) }, 1,
			condition(fit.InParallel, "R1", 10e3, 0.005), "shifted", []string{"R1"}},
		{"known resistor in series", func(n *fittest.Network) { n.R1 = 11.9e3 }, func(n *fittest.Network) { n.R1 += 10.03e3 }, 1,
			condition(fit.InSeries, "R1", 10e3, 0.005), "shifted", []string{"R1"}},
		{"potentiometer halfway", func(n *fittest.Network) { n.R1 = 11.9e3 }, func(n *fittest.Network) { n.R2 *= 0.5 }, 1,
			condition(fit.Fraction, "R2", 0.5, 0.005), "shifted", []string{"R1"}},
		{"control pin driven", func(n *fittest.Network) { n.Upper, n.Lower = 0.60, 0.30 }, func(n *fittest.Network) { n.Upper, n.Lower = 2./3, 1./3 }, 1,
			condition(fit.ControlAt, "", 10./3, 0.002), "thresholds", []string{}},
		// 20 K warmer the leak is a quarter, and 100 ppm/K of the capacitor's class can only do 0.6 %.
		{"capacitor warmed", func(n *fittest.Network) { n.Leak = 1.5e6 }, func(n *fittest.Network) { n.Leak = 0.375e6; n.C *= 0.998 }, 1,
			condition(fit.Warmed, "C1", 45, 0.05), "leakage", []string{"C1"}},
		{"second instrument", func(n *fittest.Network) {}, func(n *fittest.Network) {}, 1.06,
			condition(fit.OtherClock, "", 50e-6, 0), "clock", []string{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := base
			c.fault(&n)
			first := integrate(t, n)
			first.High.Value *= c.clock
			first.Low.Value *= c.clock
			c.second(&n)
			second := integrate(t, n)
			d := design("astable")
			d.Parts[0].Minus, d.Parts[0].Plus, d.Parts[1].Minus, d.Parts[1].Plus = 0.005, 0.005, 0.005, 0.005
			d.Parts[2].Minus, d.Parts[2].Plus = 0.05, 0.05
			d.Odds = map[string]float64{"shifted": 0.1, "leakage": 0.1, "thresholds": 0.1, "discharge": 0.1, "clock": 0.1, "other_value": 0}
			f := runWith(t, d, question.Observation{Measurement: first}, question.Observation{Measurement: second, Conditions: []fit.Condition{c.with}})
			top := f.Causes[0]
			if top.Cause != c.cause || !reflect.DeepEqual(top.Parts, c.parts) || top.Probability < 0.9 {
				t.Errorf("found %q %v (%.3f), want %q %v; then %+v", top.Cause, top.Parts, top.Probability, c.cause, c.parts, f.Causes[1:3])
			}
			if alone := runWith(t, d, question.Observation{Measurement: first}); alone.Causes[0].Cause == c.cause && 1-top.Probability > (1-alone.Causes[0].Probability)/2 {
				t.Errorf("the second capture adds next to nothing: %.4f before, %.4f after", alone.Causes[0].Probability, top.Probability)
			}
		})
	}
}

// With parts of 30 %, the times of one capture leave C1 open. A known capacitor K across it gives C = K/(q-1) where the
// times grow by q. K ± 2 % (k = 2) is normal with 1 %, so C's central 95 % are ± 1.96 %. The same K again at another
// supply brings the same error again and narrows nothing; another K, as good, narrows by the root of two.
func TestOnePartsErrorDoesNotAverageOut(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10.4e3, R2: 49e3, C: 108e-9, Supply: 5}
	d := design("astable")
	for i := range d.Parts {
		d.Parts[i].Minus, d.Parts[i].Plus = 0.3, 0.3
	}
	d.Odds = map[string]float64{"shifted": 0, "two_shifted": 0, "other_value": 0, "exchanged": 0, "leakage": 0, "thresholds": 0, "discharge": 0, "clock": 0, "unexplained": 0}
	known := condition(fit.InParallel, "C1", 100e-9, 0)
	other := condition(fit.InParallel, "C1", 220e-9, 0)
	known.Known.Standard, other.Known.Standard = 1e-9, 2.2e-9
	exact := func(m *fit.Measurement) *fit.Measurement {
		m.High.Uncertainty, m.Low.Uncertainty = 1e-6*m.High.Value, 1e-6*m.Low.Value
		return m
	}
	first := question.Observation{Measurement: exact(integrate(t, n))}
	n.C += 100e-9
	second := question.Observation{Measurement: exact(integrate(t, n)), Conditions: []fit.Condition{known}}
	third := question.Observation{Measurement: exact(integrate(t, n)), Conditions: []fit.Condition{known, condition(fit.SupplyAt, "", 9, 0)}}
	n.C += 120e-9
	fourth := question.Observation{Measurement: exact(integrate(t, n)), Conditions: []fit.Condition{other}}
	half := func(obs ...question.Observation) float64 {
		p := runWith(t, d, obs...).Parts[2]
		if p.Interval95[0] > 108e-9 || p.Interval95[1] < 108e-9 {
			t.Errorf("%d captures: %v leaves the true 108 nF out", len(obs), p.Interval95)
		}
		return (p.Interval95[1] - p.Interval95[0]) / 2 / 108e-9
	}
	if got := half(first); got < 0.1 {
		t.Errorf("one capture pins C1 to ± %.4f", got)
	}
	for _, c := range []struct {
		name      string
		obs       []question.Observation
		low, high float64
	}{
		{"one known part", []question.Observation{first, second}, 0.0188, 0.0204},
		{"the same again", []question.Observation{first, second, third}, 0.0188, 0.0204},
		{"another", []question.Observation{first, second, fourth}, 0.0133, 0.0144},
	} {
		if got := half(c.obs...); got < c.low || got > c.high {
			t.Errorf("%s: C1 ± %.4f, want %v … %v", c.name, got, c.low, c.high)
		}
	}
}

// A potentiometer of 100k ± 20 % whose wiper stands nobody knows where: two more captures, at a quarter and at three
// quarters of the travel, pin its track, by the second-order difference of the low times, and with C1 read the whole.
func TestPotentiometer(t *testing.T) {
	d := design("astable")
	d.Parts[1] = fit.Part{Name: "R2", Nominal: 50e3, Minus: 0.984, Plus: 1.4, Track: fit.Reading{Value: 100e3, Half: 20e3}}
	d.Readings = []fit.Reading{{Name: "C1", Value: 100e-9, Half: 0.2e-9}}
	n := fittest.Network{Circuit: "astable", R1: 10.02e3, C: 100e-9, Supply: 5}
	var obs []question.Observation
	for i, r2 := range []float64{37e3, 0.25 * 91e3, 0.75 * 91e3} {
		n.R2 = r2
		o := question.Observation{Measurement: integrate(t, n)}
		if i > 0 {
			o.Conditions = []fit.Condition{condition(fit.Fraction, "R2", r2/91e3, 0.01)}
		}
		obs = append(obs, o)
	}
	f := runWith(t, d, obs...)
	if p := f.Parts[1]; p.Interval95[0] > 37e3 || p.Interval95[1] < 37e3 || p.Interval95[1]-p.Interval95[0] > 0.01*37e3 {
		t.Errorf("R2 is %v, really 37 kohm", p.Interval95)
	}
	if f.Causes[0].Cause != "nothing" {
		t.Errorf("found %+v", f.Causes[0])
	}
	// With the position stated, 40 % ± 1 % of it, the same captures agree.
	d.Parts[1].Nominal, d.Parts[1].Minus, d.Parts[1].Plus = 40e3, 0.25, 0.25
	d.Parts[1].Position = fit.Reading{Value: 0.4, Half: 0.01}
	obs[0].Measurement = integrate(t, fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 0.4 * 91e3, C: 100e-9, Supply: 5})
	if f := runWith(t, d, obs...); f.Causes[0].Cause != "nothing" {
		t.Errorf("with the position known: found %+v", f.Causes[0])
	}
}

// The verdict is about the board as designed: captures under conditions alone leave it open.
func TestVerdictNeedsThePlainBoard(t *testing.T) {
	d := design("astable")
	d.Targets = []fit.Target{{Quantity: "frequency", Value: 138, Low: 130, High: 146}}
	n := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 200e-9, Supply: 5}
	changed := question.Observation{Measurement: integrate(t, n), Conditions: []fit.Condition{condition(fit.InParallel, "C1", 100e-9, 0.01)}}
	if f := runWith(t, d, changed); f.Verdict.Result != "undecided" {
		t.Errorf("verdict %+v", f.Verdict)
	}
	n.C = 100e-9
	if f := runWith(t, d, changed, question.Observation{Measurement: integrate(t, n)}); f.Verdict.Result != "pass" || !(math.Abs(f.Measured.Frequency.Value-138.7) <= 0.5) {
		t.Errorf("verdict %+v of %+v", f.Verdict, f.Measured.Frequency)
	}
}

func TestConditionsThatMakeNoSense(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5}
	m := integrate(t, n)
	for name, with := range map[string][]fit.Condition{
		"unknown part": {condition(fit.InParallel, "R7", 1e3, 0.01)},
		"two supplies": {condition(fit.SupplyAt, "", 5, 0), condition(fit.SupplyAt, "", 9, 0)},
		"above one":    {condition(fit.Fraction, "R2", 1.5, 0)},
		"nothing":      {condition(fit.InSeries, "R2", 0, 0)},
	} {
		if _, err := foundWith(design("astable"), []question.Observation{{Measurement: m, Conditions: with}}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	dead := *m
	dead.Low.Value = 0
	if _, err := foundWith(design("astable"), []question.Observation{{Measurement: &dead}}); err == nil || !strings.Contains(err.Error(), "does not run") {
		t.Errorf("a board that does not switch: %v", err)
	}
}

// A sound board whose capacitor a probe of 1 MΩ loads looks leaky, until the probe is said.
func TestAProbeIsNoLeak(t *testing.T) {
	d := design("astable")
	d.Parts[2].Minus, d.Parts[2].Plus = 0.01, 0.01
	d.Odds = map[string]float64{"shifted": 0, "two_shifted": 0, "other_value": 0, "thresholds": 0, "discharge": 0, "clock": 0}
	d.Family = fit.Ideal
	m := integrate(t, fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 47.1e3, C: 100.4e-9, Supply: 5, Leak: 1e6})
	if f := runWith(t, d, question.Observation{Measurement: m}); f.Causes[0].Cause != "leakage" || !(math.Abs(*f.Causes[0].Value/1e6-1) <= 0.3) {
		t.Errorf("unsaid: %+v", f.Causes[0])
	}
	f := runWith(t, d, question.Observation{Measurement: m, Conditions: []fit.Condition{condition(fit.Bypassed, "C1", 1e6, 0.02)}})
	if f.Causes[0].Cause != "nothing" || f.Causes[0].Probability < 0.9 {
		t.Errorf("said: %+v", f.Causes[0])
	}
}
