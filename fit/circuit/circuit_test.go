package circuit

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// The rows of rc_segment_checks.csv that belong to the circuits of this package, as values. The file's times
// come from a closed form and an ODE solver that agree to 2e-11 (see its head), hence the tolerance.
var segmentChecks = []struct {
	row     string
	circuit *Circuit
	set     map[Slot]float64 // beside the supply of 5 V
}{
	{"astable_ideal", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9}},
	{"astable_vsat", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, SwitchVoltage: 0.1}},
	{"astable_weak_discharge", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, WeakRatio: 1e3 / 47e3}},
	{"astable_leak", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, LeakRatio: 1e6 / 57e3}},
	{"astable_bias", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, Bias: 0.25e-6}},
	{"astable_control_0.5", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, Upper: 0.5}},
	{"astable_control_0.8", named("astable"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, Upper: 0.8}},
	{"astable_diode", named("astable-diode"), map[Slot]float64{0: 10e3, 1: 47e3, 2: 100e-9, DiodeDrop: 0.6}},
	{"astable_output", named("astable-output"), map[Slot]float64{0: 47e3, 1: 100e-9}},
	{"astable_output_swing", named("astable-output"), map[Slot]float64{0: 47e3, 1: 100e-9, OutputDrop: 0.3, OutputLow: 0.1}},
	{"monostable", named("monostable"), map[Slot]float64{0: 47e3, 1: 100e-9}},
	{"schmitt_hc", named("schmitt"), map[Slot]float64{Supply: 4.5, 0: 47e3, 1: 100e-9, Upper: 2.36 / 4.5, Half: 1.53 / 2.36}},
	{"multivibrator_ideal", &multivibrator, map[Slot]float64{0: 47e3, 1: 100e-9, 2: 47e3, 3: 100e-9}},
	{"multivibrator_vbe", &multivibrator, map[Slot]float64{0: 47e3, 1: 100e-9, 2: 47e3, 3: 100e-9, BaseEmitter: 0.65, SwitchVoltage: 0.1}},
	{"comparator_split", named("comparator"), map[Slot]float64{0: 47e3, 1: 100e-9, 2: 10e3, 3: 10e3}},
	{"comparator_single", named("comparator"), map[Slot]float64{0: 47e3, 1: 100e-9, 2: 100e3, 3: 50e3}},
	{"monostable_vsat", named("monostable"), map[Slot]float64{0: 47e3, 1: 100e-9, SwitchVoltage: 0.1}},
}

func TestSegmentChecks(t *testing.T) {
	want := readChecks(t)
	for _, c := range segmentChecks {
		v := Ideal(5)
		for s, x := range c.set {
			v[s] = x
		}
		high, low, ok := c.circuit.Times(&v)
		if !ok {
			t.Errorf("%s: does not run", c.row)
			continue
		}
		expect.Near(t, c.row+" high", high, want[c.row][0], 1e-9)
		if !c.circuit.OnePulse {
			expect.Near(t, c.row+" low", low, want[c.row][1], 1e-9)
		}
	}
}

func readChecks(t *testing.T) map[string][2]float64 {
	t.Helper()
	out := map[string][2]float64{}
	for _, row := range expect.Rows(t, "rc_segment_checks.csv") {
		high, _ := strconv.ParseFloat(row[2], 64) // a monostable has no low time
		low, _ := strconv.ParseFloat(row[3], 64)
		out[row[0]] = [2]float64{high, low}
	}
	return out
}

// The published second-order CMOS formula (SLFS043C p. 12), which the chain with delay and overshoot must
// reproduce and a bare "+ delay" does not; the numbers are timing_formulas.toml's check_1 and check_2, computed
// from the formula.
func TestPublishedSecondOrder(t *testing.T) {
	check := func(ra, rb, c, ron, fall, rise float64) {
		t.Helper()
		v := Ideal(5)
		v[0], v[1], v[2], v[DelayFall], v[DelayRise] = ra, rb, c, fall, rise
		// The formula's switch resistance is in series with RB and RA no longer feeds the pin, so ron goes into RB
		// of the discharge alone; RB of the charge keeps RA+RB, hence RA less ron.
		v[0], v[1] = ra-ron, rb+ron
		high, low, ok := named("astable").Times(&v)
		if !ok {
			t.Fatal("does not run")
		}
		expect.Near(t, "high", high, c*(ra+rb)*math.Log(3-math.Exp(-rise/(c*(rb+ron))))+fall, 1e-12)
		expect.Near(t, "low", low, c*(rb+ron)*math.Log(3-math.Exp(-fall/(c*(ra+rb))))+rise, 1e-12)
	}
	check(1e3, 1e3, 1e-9, 10, 200e-9, 200e-9)
	check(10e3, 10e3, 1e-9, 10, 200e-9, 300e-9)

	v := Ideal(5)
	v[0], v[1], v[2], v[DelayFall], v[DelayRise] = 1e3-10, 1e3+10, 1e-9, 200e-9, 200e-9
	high, low, _ := named("astable").Times(&v)
	expect.Near(t, "check_1 high", high, 1.7583253159572e-6, 1e-12)
	expect.Near(t, "check_1 low", low, 0.94702746667030e-6, 1e-12)
}

// bench is the same instance for the independent integration of Kirchhoff's law.
func bench(c *Circuit, v *Values) fittest.Network {
	n := fittest.Network{Circuit: c.Name, R1: v[0], Supply: v[Supply], Upper: v[Upper], Lower: v[Upper] * v[Half],
		Saturation: v[SwitchVoltage], OnResistance: v[SwitchResistance], DelayFall: v[DelayFall], DelayRise: v[DelayRise],
		Bias: v[Bias], Diode: v[DiodeDrop], OutputHigh: v[Supply] - v[OutputDrop], OutputLow: v[OutputLow]}
	switch c {
	case named("astable"), named("astable-diode"):
		n.R2, n.C = v[1], v[2]
		n.Weak = v[WeakRatio] * v[1]
	case &multivibrator:
		n.C, n.R2, n.C2, n.BaseEmitter, n.Breakdown, n.Collector = v[1], v[2], v[3], v[BaseEmitter], v[Breakdown], v[Collector]
	case named("comparator"):
		n.C, n.Feedback, n.Reference = v[1], v[3]/(v[2]+v[3]), v[Supply]/2
	default:
		n.C = v[1]
	}
	if v[LeakRatio] > 0 {
		n.Leak = v[LeakRatio] * c.Charging(v)
	}
	n.Contact, n.Stray = v[Contact]*c.Charging(v), v[Stray]
	return n
}

// Random instances with every second-order term of their default family and the faults at once, against the ODE.
func TestAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	uniform := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	for _, c := range All() {
		priors, err := c.Priors(c.Default)
		if err != nil {
			t.Fatal(err)
		}
		ran := 0
		for range 60 {
			v := Ideal(uniform(4.5, 15))
			for i, p := range c.Parts {
				v[i] = math.Pow(10, uniform(3.3, 5.3))
				if p.Kind == fit.Capacitor {
					v[i] = math.Pow(10, uniform(-9, -6))
				}
			}
			for _, p := range priors {
				v[p.Slot] = p.Typical()
				if p.Form == Uniform {
					v[p.Slot] = uniform(p.A, p.B)
				} else {
					v[p.Slot] += p.B * rng.NormFloat64()
				}
			}
			v[Collector] *= min(v[0], v[2]) // its prior stands over the smaller base resistor
			if c.Has(LeakRatio) && rng.IntN(2) == 0 {
				v[LeakRatio] = math.Exp(uniform(math.Log(3), math.Log(300)))
			}
			if c.Has(WeakRatio) && rng.IntN(2) == 0 {
				v[WeakRatio] = math.Exp(uniform(math.Log(0.01), math.Log(0.2)))
			}
			switch kind := rng.IntN(4); {
			case kind == 0 && c.Has(Contact):
				v[Contact] = math.Exp(uniform(math.Log(0.01), math.Log(0.6)))
			case kind == 1 && c.Has(Stray):
				v[Stray] = math.Exp(uniform(math.Log(1e-11), math.Log(1e-9)))
			}
			high, low, ok := c.Times(&v)
			wantHigh, wantLow, err := fittest.Integrate(bench(c, &v))
			if ok != (err == nil) {
				t.Errorf("%s %v: the law says it runs: %v; the integration says: %v", c.Name, v, ok, err)
				continue
			}
			if !ok {
				continue
			}
			ran++
			expect.Near(t, c.Name+" high", high, wantHigh, 1e-8)
			if !c.OnePulse {
				expect.Near(t, c.Name+" low", low, wantLow, 1e-8)
			}
		}
		if ran < 20 {
			t.Errorf("%s: only %d of 60 instances ran", c.Name, ran)
		}
	}
}

// With the ideal family every law is the data sheets' first-order formula (SLFS022I p. 11; SLFS022 ln 3).
func TestFirstOrderLimit(t *testing.T) {
	const r1, r2, c = 5e3, 3e3, 0.15e-6 // SLFS022I figure 13
	check := func(k *Circuit, parts []float64, wantHigh, wantLow float64) {
		t.Helper()
		v := Ideal(5)
		copy(v[:], parts)
		high, low, ok := k.Times(&v)
		if !ok {
			t.Fatalf("%s does not run", k.Name)
		}
		expect.Near(t, k.Name+" high", high, wantHigh, 1e-12)
		if !k.OnePulse {
			expect.Near(t, k.Name+" low", low, wantLow, 1e-12)
		}
	}
	check(named("astable"), []float64{r1, r2, c}, math.Ln2*(r1+r2)*c, math.Ln2*r2*c)
	check(named("astable-diode"), []float64{r1, r2, c}, math.Ln2*r1*c, math.Ln2*r2*c)
	check(named("astable-output"), []float64{r1, c}, math.Ln2*r1*c, math.Ln2*r1*c)
	check(named("monostable"), []float64{r1, c}, math.Log(3)*r1*c, 0)
	check(named("schmitt"), []float64{r1, c}, math.Ln2*r1*c, math.Ln2*r1*c) // thresholds at 2/3 and 1/3
	check(&multivibrator, []float64{r1, c, r2, c}, math.Ln2*r1*c, math.Ln2*r2*c)
	check(named("comparator"), []float64{r1, c, 10e3, 10e3}, math.Log(3)*r1*c, math.Log(3)*r1*c) // b = 1/2
	// The worked figure with ln 2: 831.777 us, 311.916 us (timing_formulas.toml, computed from the sheet's parts).
	v := Ideal(5)
	copy(v[:], []float64{r1, r2, c})
	high, low, _ := named("astable").Times(&v)
	expect.Near(t, "worked high", high, 831.777e-6, 0.6e-6) // half of the last printed digit
	expect.Near(t, "worked low", low, 311.916e-6, 1.6e-6)
}

// Resistance up and capacitance down by one factor leaves the times alone where no term breaks the scaling.
func TestScaling(t *testing.T) {
	for _, c := range All() {
		v := Ideal(9)
		w := v
		for i, p := range c.Parts {
			v[i], w[i] = 22e3, 22e3*1.7
			if p.Kind == fit.Capacitor {
				v[i], w[i] = 47e-9, 47e-9/1.7
			}
		}
		v[SwitchVoltage], w[SwitchVoltage] = 0.05, 0.05
		v[DelayFall], w[DelayFall] = 1e-6, 1e-6
		v[LeakRatio], w[LeakRatio] = 20, 20
		h1, l1, _ := c.Times(&v)
		h2, l2, _ := c.Times(&w)
		expect.Near(t, c.Name+" high", h2, h1, 1e-12)
		expect.Near(t, c.Name+" low", l2, l1, 1e-12)
	}
}

// The threshold priors must be about as wide as the makers' stated timing errors: 1 % typical, 3 % at most for
// the monostable and 2.25 % typical for the astable (SLFS022A p. 5), 5 % typical and 13 % at most for the
// astable in another sheet (Philips NE555).
func TestPriorWidth(t *testing.T) {
	spread := func(c *Circuit, parts ...float64) float64 {
		v := Ideal(15)
		copy(v[:], parts)
		priors, _ := c.Priors(fit.Bipolar)
		for _, p := range priors {
			v[p.Slot] = p.Typical()
		}
		base := v
		period := func(v *Values) float64 {
			h, l, _ := c.Times(v)
			if c.OnePulse {
				return h
			}
			return h + l
		}
		var sum float64
		for _, p := range priors {
			u := p.B
			if p.Form == Uniform {
				u = (p.B - p.A) / math.Sqrt(12)
			}
			v = base
			v[p.Slot] += u
			d := period(&v)/period(&base) - 1
			sum += d * d
		}
		return math.Sqrt(sum)
	}
	if s := spread(named("monostable"), 50e3, 0.1e-6); s < 0.01 || s > 0.03 {
		t.Errorf("monostable: standard deviation %.4f, want between the typical 1 %% and the largest 3 %%", s)
	}
	if s := spread(named("astable"), 50e3, 50e3, 0.1e-6); s < 0.0225*0.8 || s > 0.05 {
		t.Errorf("astable: standard deviation %.4f, want between the sheets' typical 2.25 %% and 5 %%", s)
	}
}

func TestLookup(t *testing.T) {
	if n := len(All()); n < 7 || n+len(Latches()) != len(Names()) {
		t.Errorf("%d circuits keep time, %d do not, of %v", n, len(Latches()), Names())
	}
	for _, c := range All() {
		if got, err := Lookup(c.Name); err != nil || got != c {
			t.Errorf("Lookup(%q) = %v, %v", c.Name, got, err)
		}
	}
	if _, err := Lookup("tristable"); err == nil {
		t.Error("an unknown circuit was found")
	}
	if _, err := named("astable").Priors("germanium"); err == nil {
		t.Error("an unknown family was found")
	}
}

// A latch is found by name but keeps no time: whoever asks for one gets an error, not a nil law.
func TestLatchesKeepNoTime(t *testing.T) {
	for _, c := range Latches() {
		if got, err := Lookup(c.Name); got != c || err != nil || slices.Contains(All(), c) || !slices.Contains(Names(), c.Name) {
			t.Errorf("%s: %v, %v", c.Name, got, err)
		}
		var v Values
		if err := c.Fill(&v, &fit.Design{}); !errors.Is(err, ErrNoTimes) || !strings.Contains(err.Error(), c.Name) {
			t.Errorf("Fill: %v", err)
		}
		if _, err := c.Typical(&fit.Design{}); !errors.Is(err, ErrNoTimes) {
			t.Errorf("Typical: %v", err)
		}
	}
}

// Thresholds that the design states take the place of the family's, with the limits it states.
func TestStatedThresholds(t *testing.T) {
	d := &fit.Design{Family: fit.CMOS, Supply: fit.Reading{Value: 4.5}, Upper: fit.Reading{Value: 2.36 / 4.5, Half: 0.01}, Lower: fit.Reading{Value: 1.53 / 4.5, Half: 0.01},
		Parts: []fit.Part{{Name: "R1", Nominal: 47e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9}}}
	v, err := named("schmitt").Typical(d)
	if err != nil {
		t.Fatal(err)
	}
	expect.Near(t, "upper", v[Upper], 2.36/4.5, 1e-12)
	expect.Near(t, "half", v[Half], 1.53/2.36, 1e-12)
	v[DelayFall], v[DelayRise], v[OutputDrop], v[OutputLow] = 0, 0, 0, 0
	high, _, _ := named("schmitt").Times(&v)
	expect.Near(t, "high", high, 1.540453781770e-3, 1e-9) // rc_segment_checks.csv, schmitt_hc
	d.Family = fit.Ideal
	priors, err := named("schmitt").Beliefs(d)
	if err != nil || len(priors) != 2 {
		t.Errorf("an ideal inverter with stated thresholds has %d priors, %v", len(priors), err)
	}
}

// The curve and the times are one law: where no delay lets the capacitor run on, a time is that of the run between
// the thresholds.
func TestCurveKeepsTheTimes(t *testing.T) {
	for _, c := range All() {
		if c.Curve == nil {
			continue
		}
		v := Ideal(9)
		for i, p := range c.Parts {
			v[i] = []float64{33e3, 68e3, 22e3, 47e3}[i]
			if p.Kind == fit.Capacitor {
				v[i] = 47e-9
			}
		}
		v[SwitchVoltage], v[SwitchResistance], v[Bias], v[LeakRatio], v[WeakRatio], v[Clock], v[OutputDrop], v[OutputLow] = 0.03, 20, 50e-9, 20, 0.02, 0.01, 0.2, 0.1
		high, low, ok := c.Times(&v)
		if !ok {
			t.Fatalf("%s does not run", c.Name)
		}
		k := c.Curve(&v)
		between := func(r Run, from, to float64) float64 { return r.Tau * math.Log((r.Target-from)/(r.Target-to)) }
		expect.Near(t, c.Name+" high", high, between(k.Charge, k.Lower, k.Upper), 1e-12)
		if !c.OnePulse {
			expect.Near(t, c.Name+" low", low, between(k.Discharge, k.Upper, k.Lower), 1e-12)
		}
		// With delays it is that of the run between the turns; the clock stretches the delays as it does the times.
		v[DelayFall] = 20e-6
		if !c.OnePulse {
			v[DelayRise] = 9e-6
		}
		high, low, _ = c.Times(&v)
		k = c.Curve(&v)
		expect.Near(t, c.Name+" high between the turns", high, between(k.Charge, k.Valley, k.Peak), 1e-12)
		if !c.OnePulse {
			expect.Near(t, c.Name+" low between the turns", low, between(k.Discharge, k.Peak, k.Valley), 1e-12)
		}
	}
}

// named is a circuit of the documentation.
func named(name string) *Circuit {
	c, _ := Lookup(name)
	return c
}
