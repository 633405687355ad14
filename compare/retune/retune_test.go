package retune

import (
	"math"
	"testing"

	"offbeat/compare/reconcile"
	"offbeat/fit"
)

// lamp is a harbour lamp's timer, R1 10k ± 1 %, R2 47k ± 1 %, C1 100n ± 10 %, for 138 Hz ± 3 %.
func lamp(family string) *fit.Design {
	return &fit.Design{Circuit: "astable", Family: family, History: fit.New,
		Supply: fit.Reading{Value: 5, Half: 0.1},
		Parts: []fit.Part{
			{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138, Low: 138 * 0.97, High: 138 * 1.03}},
	}
}

// timed is what an ideal timer with these parts shows, by the textbook formula, with a relative uncertainty of 1e-4.
func timed(r1, r2, c float64) *fit.Measurement {
	h, l := (r1+r2)*c*math.Ln2, r2*c*math.Ln2
	return &fit.Measurement{
		High:  fit.Estimate{Value: h, Uncertainty: h * 1e-4, Count: 100},
		Low:   fit.Estimate{Value: l, Uncertainty: l * 1e-4, Count: 100},
		Clock: 50e-6,
	}
}

func evidence(t testing.TB, d *fit.Design, m *fit.Measurement) *reconcile.Evidence {
	t.Helper()
	_, e, err := reconcile.Solve(d, []*fit.Measurement{m})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestShow(t *testing.T) {
	d := lamp(fit.Ideal)
	e := evidence(t, d, timed(10.05e3, 47.1e3, 118e-9))
	ps, err := Run(d, e, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ps {
		t.Logf("%.3f parts %d %+v f %+v duty %+v %s", p.InTarget, p.NewParts, p.Changes, *p.Predicted.Frequency, *p.Predicted.Duty, p.Caution)
	}
	d.Targets = append(d.Targets, fit.Target{Quantity: "duty_factor", Value: 0.52, Low: 0.51, High: 0.53})
	ps, err = Run(d, e, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ps {
		t.Logf("%.3f parts %d %+v f %+v duty %+v", p.InTarget, p.NewParts, p.Changes, *p.Predicted.Frequency, *p.Predicted.Duty)
	}
}

func BenchmarkRun(b *testing.B) {
	for _, c := range []struct {
		name string
		n    int
	}{{"frequency", 1}, {"frequency and duty", 2}} {
		b.Run(c.name, func(b *testing.B) {
			d := lamp(fit.Bipolar)
			d.Targets = append(d.Targets, fit.Target{Quantity: "duty_factor", Value: 0.52, Low: 0.51, High: 0.53})[:c.n]
			e := evidence(b, d, timed(10.05e3, 47.1e3, 118e-9))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(d, e, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
