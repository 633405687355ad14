package reconcile

import (
	"strings"
	"testing"

	"offbeat/compare/cause"
	"offbeat/fit"
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
		// Between the middle of the swing and either threshold the node is as a board with these two thresholds has it.
		for at, thresholds := range map[*float64][2]float64{&m.High.Value: {1. / 2, 2. / 3}, &m.Low.Value: {1. / 3, 1. / 2}} {
			rise, fall, err := fittest.Integrate(fittest.Network{Circuit: "astable", R1: 1.003e6, R2: 2.19e6, C: 1.01e-9, Supply: 5, Leak: probe, Lower: thresholds[0], Upper: thresholds[1]})
			if err != nil {
				t.Fatal(err)
			}
			*at = rise + fall
		}
		m.Levels.Ramps = true
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

// Samples too far apart to show a train are the wrong signal to judge a board by, with the rate that would do; where they lie
// close enough for the design, its own parts or what nobody listed must be behind it.
func TestNoTrainInCoarseSamples(t *testing.T) {
	d := design("astable") // 3.95 and 3.26 ms
	d.Targets = []fit.Target{{Quantity: "frequency", Value: 138, Low: 130, High: 145}}
	for _, c := range []struct {
		interval, least, most float64
	}{{5e-3, 0.98, 1}, {2e-3, 0.9, 1}, {1e-3, 0, 0.01}} {
		d.Stills = []fit.Still{{Interval: c.interval}}
		f := runWith(t, d)
		if p := probability(f, cause.WrongSignal, nil); p < c.least || p > c.most {
			t.Errorf("samples %g s apart: wrong signal %.4f, expected %g … %g", c.interval, p, c.least, c.most)
		}
		if f.Verdict.Result != "undecided" || !f.Parts[0].Unsupported {
			t.Errorf("samples %g s apart: verdict %q, parts %+v", c.interval, f.Verdict.Result, f.Parts[0])
		}
		if c.least > 0 && (len(f.Next) != 1 || !strings.Contains(f.Finding, "sample at 3100 a second or more")) {
			t.Errorf("samples %g s apart: %s, next %+v", c.interval, f.Finding, f.Next)
		}
	}
}
