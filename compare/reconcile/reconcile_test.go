package reconcile

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// integrate measures a network by integrating Kirchhoff's law, so that the truth does not come from the law
// under test.
func integrate(t *testing.T, n fittest.Network) *fit.Measurement {
	t.Helper()
	h, l, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	m := &fit.Measurement{Source: "bench", High: fit.Estimate{Value: h, Uncertainty: h * 5e-5, Count: 100}, Clock: 50e-6, Cycles: 100}
	if l > 0 {
		m.Low = fit.Estimate{Value: l, Uncertainty: l * 5e-5, Count: 100}
	}
	return m
}

// design of a lamp timer with R1 10k 1 %, R2 47k 1 %, C1 100n 5 %.
func design(circuit string) *fit.Design {
	d, _ := harbour(fit.Ideal)
	d.Circuit = circuit
	d.Targets = nil
	d.Parts[2].Minus, d.Parts[2].Plus = 0.05, 0.05
	if circuit == "astable-output" || circuit == "monostable" {
		d.Parts = d.Parts[1:]
		d.Parts[0].Name = "R1"
	}
	return d
}

func run(t *testing.T, d *fit.Design, m ...*fit.Measurement) *compare.Finding {
	t.Helper()
	f, err := Run(d, m)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// foundWith is what SolveWith finds, without the evidence.
func foundWith(d *fit.Design, obs []question.Observation) (*compare.Finding, error) {
	f, _, err := SolveWith(d, obs)
	return f, err
}

// Boards with one known fault each, timed by the integration: the fault comes out on top, and its value too.
func TestFaultsAreFound(t *testing.T) {
	base := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5}
	for _, c := range []struct {
		name  string
		set   func(n *fittest.Network)
		cause string
		parts []string
		value float64 // 0: none
	}{
		{"sound", func(n *fittest.Network) {}, "nothing", []string{}, 0},
		{"capacitor grown", func(n *fittest.Network) { n.C = 127e-9 }, "shifted", []string{"C1"}, 127e-9},
		{"R1 dropped", func(n *fittest.Network) { n.R1 = 8.53e3 }, "shifted", []string{"R1"}, 8.53e3},
		{"R2 wrong", func(n *fittest.Network) { n.R2 = 4.7e3 }, "other value", []string{"R2"}, 4.7e3},
		{"exchanged", func(n *fittest.Network) { n.R1, n.R2 = 47e3, 10e3 }, "exchanged", []string{"R1", "R2"}, 0},
		{"leaking", func(n *fittest.Network) { n.Leak = 800e3 }, "leakage", []string{"C1"}, 800e3},
		{"control pin loaded", func(n *fittest.Network) { n.Upper, n.Lower = 0.55, 0.275 }, "thresholds", []string{}, 0.55},
		{"weak discharge", func(n *fittest.Network) { n.Weak = 2e3 }, "discharge", []string{}, 2e3},
		{"nonsense", func(n *fittest.Network) { n.R1, n.R2, n.C = 90e3, 4e3, 300e-9 }, "unexplained", []string{}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := base
			c.set(&n)
			d := design("astable")
			d.Odds = map[string]float64{"two_shifted": 0}
			f := run(t, d, integrate(t, n))
			top := f.Causes[0]
			if top.Cause != c.cause || !reflect.DeepEqual(top.Parts, c.parts) {
				t.Fatalf("found %q %v (%.3f), want %q %v; %+v", top.Cause, top.Parts, top.Probability, c.cause, c.parts, f.Causes[:3])
			}
			if c.value > 0 && !(math.Abs(*top.Value/c.value-1) <= 0.06) { // the others' tolerance blurs it
				t.Errorf("value %v, want %v", *top.Value, c.value)
			}
			if f.Finding == "" || strings.Contains(f.Finding, "%!") {
				t.Errorf("sentence %q", f.Finding)
			}
		})
	}
}

// What the times pin needs no assumption: R2*C1 and R1/R2 come out right whatever the fault in the parts.
func TestGroups(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 13e3, R2: 31e3, C: 140e-9, Supply: 5}
	m := integrate(t, n)
	f := run(t, design("astable"), m)
	for i, want := range []float64{31e3 * 140e-9, 13. / 31} {
		g := f.Groups[i]
		if !(math.Abs(g.Value-want) <= 3*g.Uncertainty) {
			t.Errorf("%s is %v ± %v, want %v", g.Group, g.Value, g.Uncertainty, want)
		}
	}
	// R2*C1 is the low time over ln 2, with the low time's and the clock's uncertainty in quadrature.
	want := math.Hypot(5e-5, 50e-6/math.Sqrt(3))
	if g := f.Groups[0]; !(math.Abs(g.Uncertainty/g.Value/want-1) <= 0.03) {
		t.Errorf("relative uncertainty of R2*C1 is %v, want %v", g.Uncertainty/g.Value, want)
	}
}

func TestOtherCircuits(t *testing.T) {
	for _, c := range []struct {
		n     fittest.Network
		group float64
	}{
		{fittest.Network{Circuit: "astable-diode", R1: 10e3, R2: 47e3, C: 120e-9, Supply: 5}, 47e3 * 120e-9},
		{fittest.Network{Circuit: "astable-output", R1: 47e3, C: 120e-9, Supply: 5}, 47e3 * 120e-9},
		{fittest.Network{Circuit: "monostable", R1: 47e3, C: 120e-9, Supply: 5}, 47e3 * 120e-9},
	} {
		m := integrate(t, c.n)
		if c.n.Circuit != "monostable" { // exact equality of the two times would be too good a measurement
			m.Low.Value *= 1 + 2e-5
		}
		f := run(t, design(c.n.Circuit), m)
		if top := f.Causes[0]; top.Cause != "shifted" && top.Cause != "other value" || !reflect.DeepEqual(top.Parts, []string{"C1"}) {
			t.Errorf("%s: found %+v", c.n.Circuit, top)
		}
		if g := f.Groups[0]; !(math.Abs(g.Value-c.group) <= 4*g.Uncertainty) {
			t.Errorf("%s: %s is %v ± %v, want %v", c.n.Circuit, g.Group, g.Value, g.Uncertainty, c.group)
		}
	}
}

// Direct readings settle what timing cannot: C1 read in tolerance is cleared, and R1 read off leaves both resistors.
func TestReadingSettles(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 13e3, R2: 61e3, C: 100e-9, Supply: 5} // both resistors 30 % up: just like C1
	m := integrate(t, n)
	d := design("astable")
	d.History = fit.Worked
	before := run(t, d, m)
	if before.Causes[0].Parts[0] != "C1" {
		t.Fatalf("before the reading: %+v", before.Causes[0])
	}
	d.Readings = []fit.Reading{{Name: "C1", Value: 100e-9, Half: 1e-9}}
	for _, c := range run(t, d, m).Causes {
		if slices.Contains(c.Parts, "C1") && c.Probability > 0.01 {
			t.Errorf("with C1 read at its nominal: %+v", c)
		}
	}
	d.Readings = append(d.Readings, fit.Reading{Name: "R1", Value: 13e3, Half: 50})
	after := run(t, d, m)
	if top := after.Causes[0]; top.Cause != "resistors" || after.Parts[1].OutOfTolerance < 0.99 {
		t.Errorf("with C1 read at its nominal and R1 30 %% up: %+v", top)
	}
	d.Readings = append(d.Readings[:1], fit.Reading{Name: "R1", Value: 10e3, Half: 50}, fit.Reading{Name: "R2", Value: 47e3, Half: 200})
	all := run(t, d, m)
	if top := all.Causes[0]; top.Cause != "unexplained" || top.Probability < 0.9 {
		t.Errorf("with all parts read at nominal and the times 30 %% long: %+v", top)
	}
}

// A part that was read out of its tolerance does not take the leak beside it away, nor what nobody listed: it is named beside
// them. Of a part that nobody read, a leak or moved thresholds leave about what its odds say.
func TestFaultBesideAnother(t *testing.T) {
	d := design("astable")
	d.Family = fit.CMOS
	stated := fit.Reading{Name: "R1", Value: 10.8e3, Half: 30}
	for _, c := range []struct {
		cause string
		n     fittest.Network
		times float64 // of the high time
	}{
		{"leakage", fittest.Network{Circuit: "astable", R1: 10.8e3, R2: 47e3, C: 101e-9, Supply: 5, Leak: 8 * 57.8e3}, 1},
		{"unexplained", fittest.Network{Circuit: "astable", R1: 10.8e3, R2: 47e3, C: 70e-9, Supply: 5}, 1.6},
	} {
		m := integrate(t, c.n)
		m.High.Value *= c.times
		d.Readings = []fit.Reading{stated}
		f := run(t, d, m)
		if f.Causes[0].Cause != c.cause || c.cause == "leakage" && f.Parts[0].OutOfTolerance < 0.999 || !strings.Contains(strings.Join(f.Answer, " "), "R1 out of tolerance, 10.8 kΩ") {
			t.Errorf("R1 read at 10.8 kΩ beside %s: %s %+v", c.cause, f.Answer, f.Parts[0])
		}
		d.Readings = nil
	}
	f := run(t, d, integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 101e-9, Supply: 5, Upper: 0.45, Lower: 0.225}))
	if top := f.Causes[0]; top.Cause != "thresholds" || top.Probability < 0.8 {
		t.Errorf("%+v", top)
	}
	for _, q := range f.Parts {
		if q.OutOfTolerance < 0.001 || q.OutOfTolerance > 0.06 {
			t.Errorf("%s out of tolerance beside moved thresholds: %.4f, with odds of 0.02 or 0.03", q.Name, q.OutOfTolerance)
		}
	}
}

// The JSON holds every key of schema 1 and nothing that JSON cannot write.
func TestJSONKeys(t *testing.T) {
	d, m := harbour(fit.Bipolar)
	text, err := json.Marshal(run(t, d, m))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"schema", "measured", "predicted", "groups", "parts", "causes", "verdict", "next", "warnings"} {
		if all[key] == nil {
			t.Errorf("no %q in %s", key, text)
		}
	}
}

func TestNothingToCompare(t *testing.T) {
	d, m := harbour(fit.Ideal)
	if _, err := Run(d, nil); err == nil {
		t.Error("no measurement, no error")
	}
	m.Low.Value = 0
	if _, err := Run(d, []*fit.Measurement{m}); err == nil {
		t.Error("a low time of nought, no error")
	}
	d.Circuit = "sundial"
	if _, err := Run(d, []*fit.Measurement{m}); err == nil {
		t.Error("an unknown circuit, no error")
	}
}
