package report

import (
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/fit/fittest"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/waveform"
)

// probed is a leaking lamp seen by two channels, with a drift that the capacitor would make.
func probed(t testing.TB) Page {
	t.Helper()
	const step = 37.3e-6
	out, node, err := fittest.Trace(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 98e-9, Leak: 300e3}, 1e-3, step, 4000)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 8))
	for i := range out {
		out[i] += 0.02 * rng.NormFloat64()
		node[i] += 0.02 * rng.NormFloat64()
	}
	c, trace := picture.Tap(measuretest.FromRows(acquire.Capture{Source: "probed.csv", Kind: acquire.Samples, Step: step}, nil, out, node))
	w, err := waveform.Fit(c, waveform.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p := Page{Design: lamp()}
	if p.Finding, p.Evidence, err = reconcile.SolveWith(lamp(), []reconcile.Observation{{Measurement: w.Measurement, Waveform: w}}); err != nil {
		t.Fatal(err)
	}
	p.Measurements, p.Traces = append(p.Measurements, w.Measurement), append(p.Traces, trace)
	warming := 1.5
	p.Finding.Stability = &compare.Stability{EdgeNoise: compare.Measured{Value: 2e-6, Uncertainty: 1e-7}, PeriodNoise: compare.Measured{Value: 5e-7, Uncertainty: 2e-8},
		Allan: []compare.AllanPoint{{Time: 7e-3, Value: 4e-4, Terms: 900}},
		Drift: compare.Drift{Against: "time", Unit: "1/s", Value: 1e-5, Uncertainty: 2e-7, Seen: true, Range: 20,
			Causes: []compare.DriftCause{{Part: "C1", Value: 1e-5, Uncertainty: 2e-7, Fit: 0.6, Tempco: [2]float64{-240e-6, -160e-6}, Warming: &warming, Plausible: true}}}}
	p.Finding.Captures = []compare.Capture{{Source: "probed.csv", Record: 1, Shape: "time and volt table", Rows: 4000, Cycles: w.Measurement.Cycles, Notes: []string{}}}
	return p
}

// The page draws the capacitor's voltage with its runs, lists what they show, and says how the times run and which part
// would make their drift.
func TestWaveformOnThePage(t *testing.T) {
	var b strings.Builder
	if err := HTML(&b, probed(t)); err != nil {
		t.Fatal(err)
	}
	page := strings.NewReplacer("\u00a0", " ", "&#39;", "'").Replace(b.String())
	for _, want := range []string{"The capacitor's waveform", "The capacitor's own voltage", "leak across the capacitor", "upper threshold",
		"How the times run", "ppm/min", "C1 would make this drift by itself", "Allan deviation"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
