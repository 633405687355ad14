package reconcile

import (
	"math"
	"testing"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// A capacitor that has lost an eighth inside its tolerance: nothing is wrong by the drawing, and with what the board used to
// show the capacitor has moved by that.
func TestWasFindsWhatMoved(t *testing.T) {
	d := design("astable")
	d.Parts[2].Minus, d.Parts[2].Plus = 0.2, 0.2
	n := fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 46.9e3, C: 110e-9, Supply: 5}
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	n.C *= 0.87
	now := integrate(t, n)
	if f := run(t, d, now); f.Causes[0].Cause != "nothing" {
		t.Fatalf("by the drawing %+v", f.Causes[0])
	}
	d.Was = []fit.Target{{Quantity: "frequency", Value: 1 / (high + low), Low: 0.98 / (high + low), High: 1.02 / (high + low)}}
	f := run(t, d, now)
	if top := f.Causes[0]; top.Cause != "shifted" || top.Parts[0] != "C1" || top.Probability < 0.5 {
		t.Errorf("found %+v", top)
	}
	if c := f.Parts[2].Change; c == nil || c.Interval95[0] > 0.87 || c.Interval95[1] < 0.87 {
		t.Errorf("C1 has moved by %+v, really to 0.87", c)
	}
}

// What [was] states comes back out of the measurement that stands for it, value and uncertainty, and what it does not state
// is open.
func TestFormerly(t *testing.T) {
	d := design("astable")
	for _, q := range []string{"frequency", "period", "high_time", "low_time", "duty_factor"} {
		x := map[string]float64{"frequency": 150, "period": 6.2e-3, "high_time": 3.5e-3, "low_time": 3e-3, "duty_factor": 0.57}[q]
		d.Was = []fit.Target{{Quantity: q, Value: x, Low: 0.98 * x, High: 1.02 * x}}
		m, err := question.Formerly(d)
		if err != nil {
			t.Fatal(err)
		}
		e := map[string]fit.Estimate{"frequency": m.Frequency(), "period": m.Period(), "high_time": m.High, "low_time": m.Low, "duty_factor": m.Duty()}[q]
		// Least squares pulls by the share of the design's own times: the squares of 0.02/sqrt(3) over 0.15 and less, some 1 %.
		if !(math.Abs(e.Value/x-1) <= 0.003) || !(math.Abs(e.Uncertainty/e.Value/(0.02/math.Sqrt(3))-1) <= 0.03) {
			t.Errorf("%s: %g ± %g, stated %g ± 2 %%", q, e.Value, e.Uncertainty, x)
		}
	}
}
