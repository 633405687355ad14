package measure_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// A trace that leaves the screen at one side: the middle of what is seen is not that of the swing, and slow edges are met elsewhere.
func TestTraceIsCutOff(t *testing.T) {
	const high, low, tau, top = 118.3, 97.6, 2.5, 4.8
	r := rand.New(rand.NewPCG(71, 9))
	whole := make([]float64, 5000)
	level, next, wave := 0.0, 20.4, 1 // exponential edges of a first-order output, step by step
	target := func(k int) float64 { return top * float64(k%2) }
	at := 0.0
	settle := func(to float64, k int) {
		level = target(k) + (level-target(k))*math.Exp(-(to-at)/tau)
		at = to
	}
	for i := range whole {
		for next <= float64(i) {
			settle(next, wave-1)
			next += [2]float64{low, high}[wave%2]
			wave++
		}
		settle(float64(i), wave-1)
		whole[i] = level + 0.05*r.NormFloat64()
	}
	for _, c := range []struct {
		name       string
		least, cut float64
		said       string
	}{
		{"whole", math.Inf(-1), math.Inf(1), ""},
		{"a tenth above", math.Inf(-1), 4.32, "the high level stands at 4.32 V"},
		{"a quarter above", math.Inf(-1), 3.6, "the high level stands at 3.6 V"},
		{"a tenth below", 0.48, math.Inf(1), "the low level stands at 0.48 V"},
		{"both", 0.32, 3.8, "both levels stand, at 0.32 V and 3.8 V, without the noise of the slopes"},
	} {
		v := make([]float64, len(whole))
		for i, x := range whole {
			v[i] = min(max(math.Round(x/0.04)*0.04, c.least), c.cut)
		}
		m, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: "cut", Kind: acquire.Samples, Step: 1}, nil, v), measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		notes := strings.Join(m.Notes, "; ")
		if strings.Contains(notes, "cut off") != (c.said != "") || !strings.Contains(notes, c.said) {
			t.Errorf("%s: %q, want %q", c.name, notes, c.said)
		}
		off := m.High.Value - high
		if !(math.Abs(off) <= 2.5*m.High.Uncertainty) || c.said != "" && !(m.High.Uncertainty <= 8*math.Abs(off)) {
			t.Errorf("%s: high time %.4f ± %.4f, want %.4f", c.name, m.High.Value, m.High.Uncertainty, high)
		}
		if p := m.Period(); !(math.Abs(p.Value-high-low) <= 3*p.Uncertainty) || !(p.Uncertainty < 0.02) {
			t.Errorf("%s: period %.4f ± %.4f, want %.4f", c.name, p.Value, p.Uncertainty, high+low)
		}
	}
	// One without noise is whole, and edges between two samples are where they are, whether a quiet level goes on or not.
	r = rand.New(rand.NewPCG(71, 10))
	for name, noise := range map[string][3]float64{"quiet": {0, 0, 1.5}, "quiet below": {0, 0.05, 1e-3}} {
		v := make([]float64, len(whole))
		for i := range v {
			into := math.Mod(float64(i)+high+low-20.4, high+low)
			g, k := 1-math.Exp(-into/noise[2]), 1
			if into >= high {
				g, k = math.Exp(-(into-high)/noise[2]), 0
			}
			v[i] = math.Round((top*g+noise[k]*r.NormFloat64())/0.04) * 0.04
		}
		m, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: name, Kind: acquire.Samples, Step: 1}, nil, v), measure.Options{})
		if err != nil || strings.Contains(strings.Join(m.Notes, ";"), "cut off") || !(math.Abs(m.High.Value-high) <= 3*m.High.Uncertainty) || !(m.High.Uncertainty < 0.1) {
			t.Errorf("%s: %v, high time %.4f ± %.4f, %q", name, err, m.High.Value, m.High.Uncertainty, m.Notes)
		}
	}
	// A level that is given is where it says.
	v := make([]float64, len(whole))
	for i, x := range whole {
		v[i] = min(math.Round(x/0.04)*0.04, 3.6)
	}
	m, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: "cut", Kind: acquire.Samples, Step: 1}, nil, v), measure.Options{Level: top / 2, LevelSet: true})
	if err != nil || strings.Contains(strings.Join(m.Notes, ";"), "cut off") || !(math.Abs(m.High.Value-high) <= 3*m.High.Uncertainty) || !(m.High.Uncertainty < 0.1) {
		t.Errorf("%v, high time %.4f ± %.4f, %q", err, m.High.Value, m.High.Uncertainty, m.Notes)
	}
}
