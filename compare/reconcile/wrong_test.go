package reconcile

import (
	"strings"
	"testing"

	"offbeat/compare/cause"
	"offbeat/fit/fittest"
)

// A capture of the wrong thing, and what is said to do: an output inverted or turned back once too often, and the
// capacitor's node, bare and through a probe of 10 Mohm that is a leak while it is there.
func TestWrongSignalSaysWhatToDo(t *testing.T) {
	d := design("astable")
	n := fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 46.9e3, C: 102e-9, Supply: 5}
	m := integrate(t, n)
	m.High, m.Low = m.Low, m.High
	for turned, want := range map[bool]string{false: "add --invert", true: "take --invert away"} {
		m.Inverted = turned
		f := run(t, d, m)
		if top := f.Causes[0]; top.Cause != cause.WrongSignal || !strings.Contains(f.Finding, want) || f.Verdict.Result == "pass" {
			t.Errorf("turned %v: %s", turned, f.Finding)
		}
	}
	for i, x := range []float64{1e6, 2.2e6, 1e-9} {
		d.Parts[i].Nominal = x
	}
	for _, probe := range []float64{0, 10e6} {
		m := integrate(t, fittest.Network{Circuit: "astable", R1: 1.003e6, R2: 2.19e6, C: 1.01e-9, Supply: 5, Leak: probe})
		high, low, err := fittest.Midway(fittest.Network{Circuit: "astable", R1: 1.003e6, R2: 2.19e6, C: 1.01e-9, Supply: 5, Leak: probe})
		if err != nil {
			t.Fatal(err)
		}
		m.High.Value, m.Low.Value, m.Levels.Ramps = high, low, true
		if f := run(t, d, m); f.Causes[0].Cause != cause.WrongSignal || !strings.Contains(f.Finding, "capacitor's node") {
			t.Errorf("the node through a probe of %g ohm: %s", probe, f.Finding)
		}
	}
}

// Samples below two a pulse of the design are said, and those above are not.
func TestUndersampled(t *testing.T) {
	d := design("astable") // low time 3.26 ms
	for interval, slow := range map[float64]bool{5e-3: true, 1.7e-3: true, 1.5e-3: false, 1e-4: false, 0: false} {
		if what, expect := Undersampled(d, interval); (what != "") != slow || (expect != "") != slow {
			t.Errorf("%g s: %q, %q", interval, what, expect)
		}
	}
}
