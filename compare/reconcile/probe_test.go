package reconcile

import (
	"math"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// probe is a probe of 1 Mohm and 300 pF across C1, as a condition of the capture.
func probe() []fit.Condition {
	return []fit.Condition{condition(fit.Bypassed, "C1", 1e6, 0.02), condition(fit.InParallel, "C1", 300e-12, 0.2)}
}

// A prediction under a probe's load is the integrated network with that leak and that much more capacitance.
func TestPredictUnderProbe(t *testing.T) {
	d := design("astable")
	r, err := Predict(d, probe())
	if err != nil {
		t.Fatal(err)
	}
	high, low, err := fittest.Integrate(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100.3e-9, Leak: 1e6})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{high, low} {
		if got := r.Bands[i].Nominal; !(math.Abs(got/want-1) <= 1e-9) { // the integration is good to 1e-10
			t.Errorf("time %d: %.12g s, want %.12g", i, got, want)
		}
	}
	plain, err := Predict(d, nil)
	if err != nil {
		t.Fatal(err)
	}
	if plain.Bands[0].Nominal == r.Bands[0].Nominal || len(r.Warnings) != len(plain.Warnings)+1 {
		t.Errorf("the probe changes nothing, or nothing is said of it: %v", r.Warnings)
	}
}

// A sound board of large resistors seen through a probe: unsaid, the probe is a leak; said, it is part of the circuit,
// with the waveform too, and the verdict is of the board without it.
func TestProbeIsPartOfTheCircuit(t *testing.T) {
	n := fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 101e3, R2: 465e3, C: 10.2e-9, OnResistance: 20}
	d := design("astable")
	for i, x := range []float64{100e3, 470e3, 10e-9} {
		d.Parts[i].Nominal = x
	}
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	bare := 1 / (high + low)
	d.Targets = []fit.Target{{Quantity: "frequency", Value: bare, Low: 0.995 * bare, High: 1.005 * bare}}
	n.Leak, n.C = 10e6, n.C+12e-12
	w := usualScope.record(t, n, 5)
	said := []fit.Condition{condition(fit.Bypassed, "C1", 10e6, 0.02), condition(fit.InParallel, "C1", 12e-12, 0.2)}
	solve := func(o question.Observation) *compare.Finding {
		t.Helper()
		f, err := foundWith(d, []question.Observation{o})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	warns := func(f *compare.Finding) bool {
		return strings.Contains(strings.Join(f.Warnings, " "), "the probe on C1 loads it")
	}
	unsaid := solve(question.Observation{Measurement: w.Measurement, Waveform: w})
	if p := about(unsaid, "leakage", "C1"); p < 0.9 || !warns(unsaid) || !strings.HasPrefix(unsaid.Next[0].Reading, "Say what probe") {
		t.Errorf("unsaid, the probe is a leak with %.3f; warnings %v; next %v", p, unsaid.Warnings, unsaid.Next)
	}
	told := solve(question.Observation{Measurement: w.Measurement, Waveform: w, Conditions: said})
	if p := about(told, "nothing"); p < 0.8 || warns(told) || len(told.Next) > 0 && strings.HasPrefix(told.Next[0].Reading, "Say what probe") {
		t.Errorf("said, the board is sound with %.3f: %s; warnings %v", p, told.Finding, told.Warnings)
	}
	if l := told.Waveform.Leak; l != nil {
		t.Errorf("said, the asymptote shows a leak of %+v beside the probe", l)
	}
	if v := told.Verdict; v.Result != "pass" || !(math.Abs(v.Each[0].Value/bare-1) <= 4*v.Each[0].Uncertainty/bare+2e-4) {
		t.Errorf("without the probe the board runs at %.6g Hz; the verdict is %+v", bare, v)
	}
	if got := told.Measured.Frequency.Value; math.Abs(got/bare-1) < 1e-3 {
		t.Errorf("the measured frequency %.6g Hz is not that under the probe", got)
	}
}
