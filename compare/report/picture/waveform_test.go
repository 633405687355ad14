package picture

import (
	"math"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure/measuretest"
)

// The capacitor's picture has both runs and the four levels in words; without a second channel there is none.
func TestWaveform(t *testing.T) {
	const step, high, low, tau = 20e-6, 4e-3, 3.3e-3, 5e-3
	var out, node []float64
	for i := range 4000 {
		at := math.Mod(float64(i)*step, high+low)
		if at < high {
			out, node = append(out, 5), append(node, 5-3.3*math.Exp(-at/tau))
		} else {
			out, node = append(out, 0), append(node, 3.5*math.Exp(-(at-high)/tau))
		}
	}
	m := &fit.Measurement{High: fit.Estimate{Value: high}, Low: fit.Estimate{Value: low, Count: 10}}
	for i := 1; i < 10; i++ {
		m.Series.Start = append(m.Series.Start, float64(i)*(high+low))
	}
	trace := func(v ...[]float64) *Trace {
		tapped, trace := Tap(measuretest.FromRows(acquire.Capture{Kind: acquire.Samples, Step: step}, nil, v...))
		drain(t, tapped)
		return trace
	}
	runs := Runs{Upper: 3.5, Lower: 1.7, Charge: 5, Discharge: 0, TauCharge: tau, TauDischarge: tau,
		UpperSays: "upper 3.50 V", LowerSays: "lower 1.70 V", ChargeSays: "heads for 5 V", DischargeSays: "heads for 0 V"}
	p, ok := Waveform("p", trace(out, node), m, runs)
	if !ok {
		t.Fatal("no picture")
	}
	wellFormed(t, p)
	for _, want := range []string{runs.UpperSays, runs.LowerSays, runs.ChargeSays, runs.DischargeSays, `class="measured"`, `class="dots"`} {
		if !strings.Contains(p.SVG, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
	if !strings.Contains(p.Prose, "charges for 4 ms with a time constant of 5 ms") {
		t.Errorf("in words: %s", p.Prose)
	}
	if _, ok := Waveform("p", trace(out), m, runs); ok {
		t.Error("a capture of one channel was given a capacitor")
	}
}
