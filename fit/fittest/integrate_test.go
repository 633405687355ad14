package fittest

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// segmentChecks are the networks of rc_segment_checks.csv, from its column "parameters".
var segmentChecks = map[string]Network{
	"astable_ideal":          {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9},
	"astable_vsat":           {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Saturation: 0.1},
	"astable_weak_discharge": {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Weak: 1e3},
	"astable_leak":           {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Leak: 1e6},
	"astable_bias":           {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Bias: 0.25e-6},
	"astable_control_0.5":    {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Upper: 0.5, Lower: 0.25},
	"astable_control_0.8":    {Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Upper: 0.8, Lower: 0.4},
	"astable_diode":          {Circuit: AstableDiode, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Diode: 0.6},
	"astable_output":         {Circuit: AstableOutput, Supply: 5, R1: 47e3, C: 100e-9},
	"astable_output_swing":   {Circuit: AstableOutput, Supply: 5, R1: 47e3, C: 100e-9, OutputHigh: 4.7, OutputLow: 0.1},
	"monostable":             {Circuit: Monostable, Supply: 5, R1: 47e3, C: 100e-9},
	"monostable_vsat":        {Circuit: Monostable, Supply: 5, R1: 47e3, C: 100e-9, Saturation: 0.1},
	"schmitt_hc":             {Circuit: Schmitt, Supply: 4.5, R1: 47e3, C: 100e-9, Upper: 2.36 / 4.5, Lower: 1.53 / 4.5},
	"multivibrator_ideal":    {Circuit: Multivibrator, Supply: 5, R1: 47e3, C: 100e-9},
	"multivibrator_vbe":      {Circuit: Multivibrator, Supply: 5, R1: 47e3, C: 100e-9, BaseEmitter: 0.65, Saturation: 0.1},
	"comparator_split":       {Circuit: Comparator, Supply: 5, R1: 47e3, C: 100e-9, OutputLow: -5, Feedback: 0.5},
	// Three equal resistors: two of them make a source of half the supply behind R/2, the third feeds back through R.
	"comparator_single": {Circuit: Comparator, Supply: 5, R1: 47e3, C: 100e-9, Reference: 2.5, Feedback: 1. / 3},
	// RB in the discharge lead is the switch's resistance, on a pin that is the node itself.
	"duty50_resistor": {Circuit: Astable, Supply: 5, R1: 51e3, C: 10e-9, OnResistance: 22e3},
}

// within fails where got is off by more than the relative tolerance; want 0 must be met exactly.
func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.15g, want %.15g, relative difference %.2g > %.2g", what, got, want, got/want-1, tolerance)
	}
}

func TestSegmentChecks(t *testing.T) {
	rows := expect.Table(t, "rc_segment_checks.csv")
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	if len(rows)-1 != len(segmentChecks) {
		t.Errorf("the file has %d cases, this test %d", len(rows)-1, len(segmentChecks))
	}
	for _, row := range rows[1:] {
		name := row[column["case"]]
		high, low, err := Integrate(segmentChecks[name])
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		// The closed form is printed to 13 digits; the other integration claims 2e-11 and its file's README 1e-9.
		within(t, name+" high", high, number("high_time_s"), 1e-11)
		within(t, name+" low", low, number("low_time_s"), 1e-11)
		within(t, name+" high against ODE", high, number("high_time_ode_s"), 1e-9)
		if row[column["low_time_ode_s"]] != "" {
			within(t, name+" low against ODE", low, number("low_time_ode_s"), 1e-9)
		}
	}
}

// The published second-order CMOS formula has the switch's resistance in series with RB while discharging, and no
// current of RA in it. That is the network with ron moved from the switch into R2 and taken off R1, so that RA+RB stays.
func TestPublishedSecondOrder(t *testing.T) {
	type check struct {
		RA, RB, CT, Ron, TPHL, TPLH float64
		HighTime                    float64 `toml:"high_time"`
		LowTime                     float64 `toml:"low_time"`
	}
	var formulas struct {
		Second struct {
			Check1 check `toml:"check_1"`
			Check2 check `toml:"check_2"`
		} `toml:"astable_second_order"`
	}
	expect.Values(t, "timing_formulas.toml", &formulas)
	for name, c := range map[string]check{"check_1": formulas.Second.Check1, "check_2": formulas.Second.Check2} {
		high, low, err := Integrate(Network{Circuit: Astable, Supply: 5, R1: c.RA - c.Ron, R2: c.RB + c.Ron, C: c.CT,
			DelayFall: c.TPHL, DelayRise: c.TPLH})
		if err != nil || c.HighTime == 0 {
			t.Fatal(name, err, c)
		}
		within(t, name+" high", high, c.HighTime, 1e-11) // printed to 14 digits
		within(t, name+" low", low, c.LowTime, 1e-11)
	}
}

// The circuits that don't run must say so, and say where the capacitor rests.
func TestStuck(t *testing.T) {
	base := Network{Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9}
	alter := func(f func(*Network)) Network { n := base; f(&n); return n }
	for _, c := range []struct {
		name string
		n    Network
		low  bool
		rest float64
	}{
		// Leak of 57k under R1+R2 = 57k divides the supply by two.
		{"leak", alter(func(n *Network) { n.Leak = 57e3 }), false, 2.5},
		// A switch of 10k under R1 of 10k leaves the pin at half the supply.
		{"switch", alter(func(n *Network) { n.Weak = 10e3 }), true, 2.5},
		// 5 V - 57k * 40 uA
		{"bias", alter(func(n *Network) { n.Bias = 40e-6 }), false, 5 - 57e3*40e-6},
		// rc_segment_checks.csv, astable_output_swing: "with voh <= 2/3 vcc it never switches"
		{"swing", Network{Circuit: AstableOutput, Supply: 5, R1: 47e3, C: 100e-9, OutputHigh: 3.3}, false, 3.3},
		// timing_formulas.toml duty50: "does not oscillate if RB > RA/2"
		{"duty50", Network{Circuit: Astable, Supply: 6, R1: 50e3, C: 10e-9, OnResistance: 25.001e3}, true, 6 * 25.001 / 75.001},
		{"monostable", Network{Circuit: Monostable, Supply: 5, R1: 1e3, C: 1e-7, Weak: 9e3}, false, 4.5}, // it rests above its threshold
	} {
		_, _, err := Integrate(c.n)
		var stop *StopError
		if !errors.As(err, &stop) {
			t.Errorf("%s: got %v, want a StopError", c.name, err)
			continue
		}
		if stop.OutputLow != c.low {
			t.Errorf("%s: output low %v, want %v", c.name, stop.OutputLow, c.low)
		}
		within(t, c.name+" rest", stop.Rest["node"], c.rest, 1e-11)
	}
	if _, _, err := Integrate(Network{Circuit: Astable, Supply: 6, R1: 50e3, C: 10e-9, OnResistance: 24.9e3}); err != nil {
		t.Errorf("duty50 with RB a little under RA/2 must run: %v", err)
	}
}

func TestRefuses(t *testing.T) {
	good := Network{Circuit: Astable, Supply: 5, R1: 1e4, R2: 1e4, C: 1e-7}
	for name, f := range map[string]func(*Network){
		"circuit":   func(n *Network) { n.Circuit = "bistable" },
		"R1":        func(n *Network) { n.R1 = 0 },
		"C":         func(n *Network) { n.C = math.NaN() },
		"Supply":    func(n *Network) { n.Supply = math.Inf(1) },
		"Leak":      func(n *Network) { n.Leak = -1 },
		"threshold": func(n *Network) { n.Upper, n.Lower = 0.3, 0.6 },
	} {
		n := good
		f(&n)
		if _, _, err := Integrate(n); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got error %v, want one that names it", name, err)
		}
	}
}

// With a large diode drop the diode stops conducting on the way up, and R2 carries the rest: two exponentials, worked out
// here by hand. The diode lets go where R1 brings just Diode/R2.
func TestDiodeLetsGo(t *testing.T) {
	n := Network{Circuit: AstableDiode, Supply: 5, R1: 47e3, R2: 20e3, C: 100e-9, Diode: 0.6}
	letGo := n.Supply - n.Diode - n.R1*n.Diode/n.R2 // 2.99 V, between the thresholds
	want := n.R1*n.C*math.Log((n.Supply-n.Diode-n.Supply/3)/(n.Supply-n.Diode-letGo)) +
		(n.R1+n.R2)*n.C*math.Log((n.Supply-letGo)/(n.Supply-2*n.Supply/3))
	high, _, err := Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "high", high, want, 1e-10)
}

// Scaling the resistances by k and the capacitances by 1/k leaves all times alone (currents scale by 1/k).
func TestImpedanceScaling(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		n := Network{Circuit: Astable, Supply: 5, R1: 1e4, R2: 47e3, C: 1e-7, Saturation: 0.1, OnResistance: 30, Leak: 1e6,
			Bias: 1e-7, DelayFall: 1e-6, DelayRise: 2e-6}
		k := math.Exp(rng.NormFloat64())
		m := n
		m.R1, m.R2, m.OnResistance, m.Leak = k*n.R1, k*n.R2, k*n.OnResistance, k*n.Leak
		m.C, m.Bias = n.C/k, n.Bias/k
		h1, l1, err1 := Integrate(n)
		h2, l2, err2 := Integrate(m)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		within(t, "high", h2, h1, 1e-11)
		within(t, "low", l2, l1, 1e-11)
	}
}

func BenchmarkIntegrate(b *testing.B) {
	n := segmentChecks["astable_leak"]
	for b.Loop() {
		if _, _, err := Integrate(n); err != nil {
			b.Fatal(err)
		}
	}
}
