package circuit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

const plain = "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100"

// restsLate gives a single pulse; as it comes to rest another capacitor charges until a diode conducts.
const restsLate = "U1 timer threshold=cap discharge=a\nR1 supply cap 47\nR2 a cap 1\nC1 cap ground 100\nR3 supply x 100\nC2 x ground 22\nD1 x cap"

// Which diodes conduct as the high and the low state of the nominal cycle end, and midway through the high one, by hand: R3 and R4 hold
// 1.25 V behind 75 kohm, so that a diode into them conducts above 1.85 V, and one out of them below 0.65 V.
func TestStatesOfDiodes(t *testing.T) {
	for text, want := range map[string][3]int{
		plain + "\nD1 discharge cap":                                                                                            {1, 0, 1},
		plain + "\nD1 cap a\nR3 a supply 300\nR4 a ground 100":                                                                  {1, 0, 1},
		plain + "\nD1 a cap\nR3 a supply 300\nR4 a ground 100":                                                                  {0, 0, 0},
		plain + "\nD1 cap a\nR3 a supply 150\nR4 a ground 200":                                                                  {0, 0, 0}, // 2.86 V
		plain + "\nD1 cap a\nR3 a supply 130\nR4 a ground 120":                                                                  {1, 0, 0}, // 2.4 V
		plain + "\nD2 cap c\nR5 c supply 1000\nR6 c ground 240\nD1 cap a\nR3 a supply 600\nR4 a ground 200":                     {3, 1, 3}, // 0.97 V: conducts throughout
		"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100\nD1 cap a\nR3 a supply 300\nR4 a ground 100": {1, 0, 1},
		"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100\nD1 cap a\nR3 a supply 100\nR4 a ground 150": {0, 0, 0},
		"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100\nD1 a cap\nR3 a supply 300\nR4 a ground 100": {0, 1, 0},
	} {
		c, v := run(t, design(t, text))
		midway, ok := c.engine.nominalCycle(&v)
		if got := [3]int{c.engine.nominal[0], c.engine.nominal[1], midway}; !ok || got != want {
			t.Errorf("%q: diodes %b conduct, want %b", text, got, want)
		}
	}
}

// A diode that none of the nominal cycle's states lets conduct, but does at the peak of a changed board: its short form is not
// taken, or gives the times that following gives.
func TestShortFormBesideNominal(t *testing.T) {
	for _, text := range []string{"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100\nD1 cap a\nR3 a supply 100\nR4 a ground 150", plain + "\nD1 cap a\nR3 a supply 100\nR4 a ground 150"} {
		c, v := run(t, design(t, text))
		if c.engine.quick == nil || c.engine.nominal[0] != 0 {
			t.Fatalf("%q: diodes %b conduct", text, c.engine.nominal[0])
		}
		r4, _ := c.Slot("R4")
		for _, ohm := range []float64{150e3, 130e3, 120e3, 80e3, 40e3} {
			v[r4] = ohm
			high, low, ok := c.engine.times(&v)
			h, l, followed := c.engine.followed(&v)
			if ok != followed {
				t.Fatalf("%q with %g ohm: runs %v, followed %v", text, ohm, ok, followed)
			}
			expect.Near(t, text+" high", high, h, 1e-10)
			expect.Near(t, text+" low", low, l, 1e-10)
		}
	}
}

// Kirchhoff's law holds as well at another pace: with all capacitances and delays k times as large every time is k times as long.
func TestPaceOfABoard(t *testing.T) {
	ran := 0
	for _, text := range append(boards, restsLate) {
		c, v := run(t, design(t, text))
		v[DelayFall], v[DelayRise], v[Bias], v[SwitchResistance] = 3e-6, 2e-6, 1e-8, 20
		if c.OnePulse {
			v[DelayRise] = 0
		}
		high, low, ok := c.Times(&v)
		for _, k := range []float64{1e-3, 1e5} {
			w := v
			for i, p := range c.Parts {
				if p.Kind == fit.Capacitor {
					w[i] *= k
				}
			}
			w[DelayFall], w[DelayRise] = k*w[DelayFall], k*w[DelayRise]
			h, l, runs := c.Times(&w)
			if runs != ok {
				t.Errorf("%q %g times as slow: runs %v", text, k, runs)
			}
			if !ok || slices.ContainsFunc(onBench(c, &v).Capacitors, func(two fittest.Two) bool { return two.Value == strayFarad }) {
				continue
			}
			ran++
			expect.Near(t, text+" high", h, k*high, 1e-9)
			if !c.OnePulse {
				expect.Near(t, text+" low", l, k*low, 1e-9)
			}
		}
	}
	if ran < 40 {
		t.Errorf("only %d boards ran", ran)
	}
}

// A discharge switch on a node between two capacitors and no source, and a diode that begins to conduct while a single pulse's board comes to
// rest, against the integration.
func TestSwitchedNodesAgainstIntegration(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	var n tally
	for _, text := range []string{
		"U1 timer trigger=cap threshold=cap\nR1 supply a 47\nC2 a ground 10\nR2 discharge cap 22\nR3 discharge a 33\nR4 a cap 10\nC1 cap ground 100",
		restsLate,
	} {
		c, d := board(t, text, rng)
		nominal, err := c.Typical(d)
		if err != nil {
			t.Fatal(err)
		}
		n.compare(t, text, c, d.Family, &nominal, 2, rng)
	}
	n.check(t, 4)
}

// The terms that a board's times depend on are each listed once, and neither the supply nor a fault is one.
func TestTermsAreListedOnce(t *testing.T) {
	for _, text := range boards[:6] {
		c, _ := run(t, design(t, text))
		for i, s := range c.Terms {
			if s == Supply || s >= LeakRatio || slices.Contains(c.Terms[:i], s) {
				t.Errorf("%q: %v lists slot %d", text, c.Terms, s)
			}
		}
	}
}

// A board with something hung on it has a curve while its law is that of one charged node.
func TestCurveOfALoadedBoard(t *testing.T) {
	bare, _ := run(t, design(t, plain))
	for _, c := range []struct {
		load Load
		want bool
	}{{Load{"cap", LoadOhm, 1e6}, true}, {Load{"cap", LoadFarad, 1e-9}, true}, {Load{"discharge", LoadFarad, 1e-9}, false}} {
		if k, err := bare.Loaded([][]Load{{c.load}}); err != nil || (k.Curve != nil) != c.want {
			t.Errorf("%+v: has a curve %v, %v", c.load, k.Curve != nil, err)
		}
	}
}

// What no resistor holds drifts by the input's own current over the capacitance.
func TestDriftIsSaid(t *testing.T) {
	c, v := run(t, design(t, "U1 inverter in=cap\nR1 output a 47\nD1 a cap\nC1 cap ground 100"))
	v[Bias] = -3e-8 // 30 nA into 100 nF
	if got, want := c.Stuck(&v), "in the low state nothing but an input's own current moves the capacitor, by 0.3 V/s, away from the lower threshold"; got != want {
		t.Errorf("%s", got)
	}
}

// Constants are worked out as a tape is built, but for a quotient by zero; a tape computes what it says however many registers it takes.
func TestTapesOfConstantsAndLongOnes(t *testing.T) {
	b := newBuilder()
	two, three, zero := b.constant(2), b.constant(3), b.constant(0)
	if got := b.compile(b.div(three, two), b.mul(three, two), b.invert(two), b.add(three, two), b.sub(three, two)); len(got.code) != 0 {
		t.Errorf("%d instructions for constants", len(got.code))
	}
	out := []float64{0}
	b.compile(b.div(three, zero)).eval(&Values{}, out)
	if !math.IsInf(out[0], 1) {
		t.Errorf("3 / 0 is %v", out[0])
	}
	for _, size := range []int{smallTape / 2, smallTape, smallTape + 1, largeTape - 2} {
		b, sum, want := newBuilder(), b.constant(0), 0.0
		sum = b.constant(0)
		var v Values
		v[0] = 3
		for i := range size - 2 {
			x := float64(i + 2)
			sum, want = b.add(sum, b.mul(b.slot(0), b.constant(x))), want+3*x
		}
		tape := b.compile(sum)
		if tape.eval(&v, out); out[0] != want || tape.size < size-2 || tape.size > largeTape {
			t.Errorf("%d registers: %v, want %v", tape.size, out[0], want)
		}
	}
}

// What can be wrong with a board beside its parts, and what it is taken for, go with its device: thresholds that drift with a timer's
// control pin alone, a worn switch with a way from it, an output that has to reach the rails with a timer that charges from it.
func TestFaultsOfADevice(t *testing.T) {
	const timer = "U1 timer trigger=cap threshold=cap\n"
	for _, c := range []struct {
		text   string
		family string
		more   []Slot // beside a leak, a bad contact and a stray capacitance
	}{
		{plain, fit.Bipolar, []Slot{Upper, WeakRatio}},
		{plain + "\nR3 control ground 33", fit.Bipolar, []Slot{Upper, WeakRatio}},
		{timer + "R1 output cap 47\nC1 cap ground 100", fit.CMOS, []Slot{Upper}},
		{"U1 timer threshold=cap discharge=cap\nR1 supply cap 47\nC1 cap ground 100", fit.Bipolar, []Slot{Upper}},
		{"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100", fit.CMOS, nil},
		{"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nR4 ref supply 10", fit.CMOS, nil},
	} {
		k, _ := run(t, design(t, c.text))
		if want := append([]Slot{LeakRatio, Contact, Stray}, c.more...); !slices.Equal(k.Faults, want) || k.Default != c.family {
			t.Errorf("%q: faults %v, want %v; taken for %s, want %s", c.text, k.Faults, want, k.Default, c.family)
		}
	}
}

// A board is compiled about the family's terms, each diode of which the design says nothing at the family's drop.
func TestCompiledAboutTheFamily(t *testing.T) {
	d := design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge a 10\nD1 a cap\nR3 discharge b 22\nD2 cap b\nC1 cap ground 100")
	d.Family, d.Diodes = fit.Bipolar, nil
	c, _ := run(t, d)
	for _, p := range c.Families[fit.Bipolar] {
		for _, k := range []Slot{p.Slot, c.means.drop["D2"]} {
			if (k == p.Slot || p.Slot == DiodeDrop) && c.about[k] != p.Typical() {
				t.Errorf("%s in slot %d: %g, want %g", p.Name, k, c.about[k], p.Typical())
			}
		}
	}
	if second := c.means.drop["D2"]; second == DiodeDrop || !(c.about[second] > 0.4) {
		t.Errorf("the second diode's drop is %g", c.about[second])
	}
}
