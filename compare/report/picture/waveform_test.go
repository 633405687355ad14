package picture

import (
	"math"
	"regexp"
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
	runs := Runs{Upper: Level{3.5, 0.1, "upper 3.50 V"}, Lower: Level{1.7, 0.1, "lower 1.70 V"}, Charge: Level{5, 0, "heads for 5 V"}, Discharge: Level{0, 0, "heads for 0 V"},
		Supply: Level{5.2, 0, "supply 5.2 V"}, TauCharge: tau, TauDischarge: tau}
	p := Waveform("p", trace(out, node), m, runs)
	ok := p.SVG != ""
	if !ok {
		t.Fatal("no picture")
	}
	wellFormed(t, p)
	for _, want := range []string{runs.Upper.Says, runs.Lower.Says, runs.Charge.Says, runs.Discharge.Says, runs.Supply.Says, `class="measured"`, `class="dots"`, `class="spread"`} {
		if !strings.Contains(p.SVG, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
	if !strings.Contains(p.Prose, "charges for 4 ms with a time constant of 5 ms") {
		t.Errorf("in words: %s", p.Prose)
	}
	// What the runs leave is drawn and said: next to nothing, then a bow of 30 mV while it charges.
	departs := regexp.MustCompile(`at most ([\d.]+) (m|µ)V`)
	if d := departs.FindStringSubmatch(p.Prose); d == nil || d[2] == "m" && len(d[1]) > 3 {
		t.Errorf("of exact runs there is left: %s", p.Prose)
	}
	for i := range node {
		if at := math.Mod(float64(i)*step, high+low); at < high {
			node[i] += 30e-3 * math.Sin(math.Pi*at/high)
		}
	}
	if p = Waveform("p", trace(out, node), m, runs); !strings.Contains(p.Prose, "at most 30 mV") {
		t.Errorf("of a bow there is left: %s", p.Prose)
	}
	if Waveform("p", trace(out), m, runs).SVG != "" {
		t.Error("a capture of one channel was given a capacitor")
	}
}
