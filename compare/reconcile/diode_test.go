package reconcile

import (
	"strings"
	"testing"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// A board with a diode across R2, which no drawing of it has, integrated from Kirchhoff's law: it is found, and which way it conducts.
func TestDiodeNotDrawn(t *testing.T) {
	d := design("astable")
	d.Family = fit.CMOS
	for way, undrawn := range map[string]fittest.Two{
		"from discharge to cap": {A: "discharge", B: "cap", Value: 0.6},
		"from cap to discharge": {A: "cap", B: "discharge", Value: 0.6},
	} {
		b := fittest.Board{
			Resistors:  []fittest.Two{{A: "supply", B: "discharge", Value: 10.02e3}, {A: "discharge", B: "cap", Value: 46.8e3}},
			Capacitors: []fittest.Two{{A: "cap", B: "ground", Value: 100.4e-9}},
			Diodes:     []fittest.Two{undrawn},
			Held:       map[string]float64{"ground": 0, "supply": 5},
			Output:     "output", High: 5, DelayFall: 0.2e-6, Delay: 0.2e-6,
			Switch: "discharge", Ohm: 20,
			FallWhen: []fittest.Test{{Left: "cap", LeftBy: 1, RightBy: 5 * 2. / 3}},
			RiseWhen: []fittest.Test{{LeftBy: 5 / 3., Right: "cap", RightBy: 1}},
		}
		on, off, err := b.Cycle(false)
		if err != nil {
			t.Fatal(err)
		}
		f := runWith(t, d, question.Observation{Measurement: &fit.Measurement{Source: way, High: fit.Estimate{Value: on, Uncertainty: 1e-4 * on},
			Low: fit.Estimate{Value: off, Uncertainty: 1e-3 * off}, Clock: 1e-4}})
		if p := probability(f, "diode", []string{"R2"}); p < 0.6 || !strings.Contains(f.Finding, way) {
			t.Errorf("a diode %s, %.3g and %.3g s: %.3f; %s", way, on, off, p, f.Finding)
		}
	}
}
