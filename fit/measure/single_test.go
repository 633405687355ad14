package measure_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// One whole cycle: refused with the flag's name; where the user says so measured, high and low time each with an uncertainty that
// holds, without a type A part.
func TestOneCycle(t *testing.T) {
	var z [4]tally
	for seed := range uint64(300) {
		rnd := rand.New(rand.NewPCG(seed, 71))
		w := measuretest.Wave{Step: 1, High: 40 + 60*rnd.Float64(), Low: 40 + 60*rnd.Float64(), Kind: acquire.Kind(rnd.IntN(2)), Code: 8.0 / 256, Noise: 0.02}
		w.Phase = 5 + 20*rnd.Float64()
		w.Cycles = (w.Phase + w.High + w.Low + 10 + 20*rnd.Float64()) / (w.High + w.Low)
		if rnd.IntN(2) == 0 {
			w.Rise, w.Fall = 3*rnd.Float64(), 3*rnd.Float64()
		}
		edges := w.Edges(rnd)
		for len(edges) > 0 && edges[0] < 0 {
			edges = edges[2:]
		}
		_, err := measure.Run(w.CaptureOf(edges, rnd), measure.Options{})
		if !errors.Is(err, measure.ErrFew) || !strings.Contains(err.Error(), "--single") || !strings.Contains(err.Error(), "one whole cycle") {
			t.Fatalf("without the flag: %v", err)
		}
		m, err := measure.Run(w.CaptureOf(edges, rnd), measure.Options{OneCycle: true})
		if err != nil {
			t.Fatal(err)
		}
		if m.Cycles != 1 || m.High.Count != 1 || m.Low.Count != 1 || !strings.Contains(strings.Join(m.Notes, "\n"), "type A") {
			t.Fatalf("%d cycles, %d highs, %d lows, %q", m.Cycles, m.High.Count, m.Low.Count, m.Notes)
		}
		for _, row := range m.Budget {
			if row.Kind == "A" && row.High+row.Low > 0 && row.Name != "form of the edges" {
				t.Fatalf("type A: %+v", row)
			}
		}
		normalised(m, w, &z)
	}
	for i, name := range []string{"high time", "low time", "period", "duty factor"} {
		if r := z[i].rms(); r < 0.7 || r > 1.25 {
			t.Errorf("%s: error over stated uncertainty has root mean square %.2f", name, r)
		}
	}
	// More than one cycle is measured as ever.
	w := measuretest.Wave{Step: 1, High: 57.3, Low: 91.1, Cycles: 12.3, Phase: 31}
	a, errA := measure.Run(w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{})
	b, errB := measure.Run(w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{OneCycle: true})
	if errA != nil || errB != nil || a.High != b.High || !(math.Abs(a.Covariance-b.Covariance) <= 0) {
		t.Errorf("%v, %v: %+v, %+v", errA, errB, a, b)
	}
}
