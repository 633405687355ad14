package reconcile

import (
	"testing"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// However a leak follows the temperature, an honest second capture with C1 warmed leaves the leak the likeliest cause: one
// through the dielectric that doubles in 10 K, and a resistor across the part that does not change.
func TestALeakStaysALeakWhenWarmed(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 98e-9, Leak: 600e3, Supply: 5}
	d := design("astable")
	cold := integrate(t, n)
	warm := fit.Condition{Kind: fit.Warmed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 45, Half: 5}, Text: "C1 at 45 °C ± 5 °C"}
	for name, leak := range map[string]float64{"doubles in 10 K": 150e3, "half as fast": 300e3, "does not change": 600e3} {
		n.Leak = leak
		f, _, err := SolveWith(d, []Observation{{Measurement: cold}, {Measurement: integrate(t, n), Conditions: []fit.Condition{warm}}})
		if err != nil {
			t.Fatal(err)
		}
		if f.Causes[0].Cause != "leakage" || f.Causes[0].Probability < 0.7 {
			t.Errorf("%s: %s", name, f.Finding)
		}
	}
}
