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

// Nothing of the output at all, or what a counter makes of it, blames no part; nor does the node of a board whose diode bends the charge.
func TestOtherSignals(t *testing.T) {
	for _, c := range []struct {
		circuit   string
		high, low float64 // s
		says      string
	}{
		{"astable", 0.01003, 0.00994, "mains hum"}, // 50 Hz
		{"astable", 0.008304, 0.008365, "mains hum"},
		{"monostable", 0.01002, 0, "mains hum"},
		{"schmitt", 5e-8, 5e-8, "another clock"}, // faster than it runs on strays alone
		{"schmitt", 5e-6, 5e-6, "another clock"}, // and slower than on what a missing capacitor leaves
		{"astable", 2, 0, "a divider"},           // periods in each half
		{"astable", 5, 0, "a divider"},
		{"astable-diode", 0, 0, "capacitor's node"},
	} {
		n := fittest.Network{Circuit: c.circuit, R1: 10.02e3, R2: 46.9e3, C: 102e-9, Supply: 5, Diode: 0.6}
		m := integrate(t, n)
		switch period := m.High.Value + m.Low.Value; {
		case c.high >= 1:
			m.High.Value, m.Low.Value = c.high*period, c.high*period
		case c.high > 0:
			m.High.Value, m.Low.Value = c.high, c.low
		default:
			for at, thresholds := range map[*float64][2]float64{&m.High.Value: {1. / 2, 2. / 3}, &m.Low.Value: {1. / 3, 1. / 2}} {
				part := n
				part.Lower, part.Upper = thresholds[0], thresholds[1]
				part.Circuit = fittest.AstableDiode
				rise, fall, err := fittest.Integrate(part)
				if err != nil {
					t.Fatal(err)
				}
				*at = rise + fall
			}
		}
		d := design(c.circuit)
		if c.circuit == "schmitt" {
			d = design("astable-output")
			d.Circuit, d.Family = c.circuit, fit.CMOS
		}
		if f := run(t, d, m); f.Causes[0].Cause != cause.WrongSignal || !strings.Contains(f.Finding, c.says) {
			t.Errorf("%s, %g and %g s: %s", c.circuit, m.High.Value, m.Low.Value, f.Finding)
		}
	}
}

// Two transistors whose gain is half of what saturates them swing their collectors by half, so that both half-cycles are short:
// no resistor and no capacitor of the two is to blame for sure.
func TestWeakPair(t *testing.T) {
	d := design("multivibrator")
	d.Family, d.Supply.Value, d.Parts = fit.Bipolar, 6, []fit.Part{
		{Name: "R1", Nominal: 47e3, Minus: 0.01, Plus: 0.01}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.05, Plus: 0.05},
		{Name: "R2", Nominal: 68e3, Minus: 0.01, Plus: 0.01}, {Name: "C2", Kind: fit.Capacitor, Nominal: 47e-9, Minus: 0.05, Plus: 0.05}}
	const swing = 5.9
	half := 0.5 * swing * 68 / 47 // of the collector whose base has the smaller resistor
	m := integrate(t, fittest.Network{Circuit: "multivibrator", R1: 47.1e3, C: 101e-9, R2: 67.8e3, C2: 46.5e-9, Supply: 6, Saturation: 6 - swing, BaseEmitter: 0.65,
		Collector: 1500, OutputHigh: 6 - (swing - half), OutputLow: 0.5 * swing})
	f := run(t, d, m)
	if top := f.Causes[0]; top.Cause != "output" {
		t.Errorf("%s", f.Finding)
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

// An oscillator's own halves are nearly equal, a counter's are: twice the period in halves that differ by nothing is a counter behind
// it, in halves that differ by as little as its output's levels make it is a part of twice the value.
func TestCounterBehindEvenHalves(t *testing.T) {
	d := design("astable-output")
	d.Family = fit.CMOS
	m := integrate(t, fittest.Network{Circuit: "astable-output", R1: 47.1e3, C: 102e-9, Supply: 5, OutputHigh: 4.95, OutputLow: 0.01})
	period := m.High.Value + m.Low.Value
	for apart, most := range map[float64]bool{0: true, m.High.Value/m.Low.Value - 1: false} {
		two := *m
		two.High.Value, two.Low.Value = period*(1+apart/2), period*(1-apart/2)
		f := run(t, d, &two)
		if p := probability(f, cause.WrongSignal, nil); most != (p > 0.5) || !most && p > 0.02 {
			t.Errorf("halves apart by %.2g: a wrong signal with %.3f; %s", apart, p, f.Finding)
		}
	}
}
