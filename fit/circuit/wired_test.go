package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/wiring"
)

// design makes a design of a wiring whose values stand on the cards, R in kilohm and C in nanofarad.
func design(t testing.TB, text string, held ...string) *fit.Design {
	t.Helper()
	w, err := wiring.Parse(text, held...)
	if err != nil {
		t.Fatal(err)
	}
	d := &fit.Design{Wiring: w, Family: fit.Ideal, Supply: fit.Reading{Value: 5}}
	for _, c := range w.Cards {
		p := fit.Part{Name: c.Name}
		x := number(t, c.Value)
		switch c.Kind {
		case wiring.Diode:
			d.Diodes = append(d.Diodes, fit.Diode{Name: c.Name, Drop: fit.Reading{Value: 0.6}})
			continue
		case wiring.Capacitor:
			p.Kind, p.Nominal = fit.Capacitor, x*1e-9
		default:
			p.Nominal = x * 1e3
		}
		p.Minus, p.Plus = 0.05, 0.05
		d.Parts = append(d.Parts, p)
	}
	return d
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	x := 0.0
	for _, r := range s {
		if r < '0' || r > '9' {
			t.Fatalf("%q is no whole number", s)
		}
		x = 10*x + float64(r-'0')
	}
	return x
}

func run(t *testing.T, d *fit.Design) (c *Circuit, v Values) {
	t.Helper()
	c, err := Of(d)
	if err != nil {
		t.Fatal(err)
	}
	if v, err = c.Typical(d); err != nil {
		t.Fatal(err)
	}
	return c, v
}

// A shipped wiring as a design's own gives the named circuit's times.
func TestShippedAsWired(t *testing.T) {
	for _, s := range wiring.All() {
		if s.Name == "bistable" {
			continue
		}
		named, err := Lookup(s.Name)
		if err != nil {
			t.Fatal(err)
		}
		w, err := s.Wiring()
		if err != nil {
			t.Fatal(err)
		}
		for family := range named.Families {
			d := &fit.Design{Circuit: s.Name, Family: family, Supply: fit.Reading{Value: 9}, Parts: usualParts(w)}
			a, err := named.Typical(d)
			if err != nil {
				t.Fatal(err)
			}
			d.Wiring = w
			for name, share := range s.Shares {
				d.Nodes = append(d.Nodes, fit.Node{Reading: fit.Reading{Name: name, Value: share}, Ratio: true})
			}
			c, b := run(t, d)
			h0, l0, ok0 := named.Times(&a)
			h1, l1, ok1 := c.Times(&b)
			if !ok0 || !ok1 || c.Default != named.Default {
				t.Errorf("%s %s: runs %v, %v; default %s, %s", s.Name, family, ok0, ok1, named.Default, c.Default)
			}
			expect.Near(t, s.Name+" "+family+" high", h1, h0, 1e-9)
			expect.Near(t, s.Name+" "+family+" low", l1, l0, 1e-9)
		}
	}
}

// Worked by hand: a trimmer adds to the resistor it is in series with, capacitors side by side add, a capacitor to the
// supply is one to ground, two diodes part the two halves.
func TestWorkedByHand(t *testing.T) {
	check := func(text string, high, low float64) {
		t.Helper()
		c, v := run(t, design(t, text))
		h, l, ok := c.Times(&v)
		if !ok {
			t.Errorf("%q does not run", text)
		}
		expect.Near(t, "high", h, high, 1e-12)
		expect.Near(t, "low", l, low, 1e-12)
	}
	const timer = "U1 timer trigger=cap threshold=cap\n"
	check(timer+"R1 supply discharge 10\nR2 discharge a 22\nRV1 a cap 25\nC1 cap ground 100\nC2 control ground 10", math.Ln2*57e3*100e-9, math.Ln2*47e3*100e-9)
	check(timer+"R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nC2 supply cap 47", math.Ln2*57e3*147e-9, math.Ln2*47e3*147e-9)
	// ½ (supply - drop) charges, the drop alone stays under the discharge: to two thirds from one third through R2 and D1.
	check(timer+"R1 supply discharge 1\nR2 discharge a 10\nD1 a cap\nR3 discharge b 22\nD2 cap b\nC1 cap ground 100",
		11e3*100e-9*math.Log((5-0.6-5./3)/(5-0.6-10./3)), 22e3*100e-9*math.Log((10./3-0.6)/(5./3-0.6)))
	// A resistor as large as the ladder on the control pin halves what its lower part is: 10k beside 15k.
	control := 5 * 6 / (6 + 5.)
	check(timer+"R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 control ground 15",
		57e3*100e-9*math.Log((5-control/2)/(5-control)), 47e3*100e-9*math.Ln2)
}

// Two charged nodes: Newton's two dwell times are those of the cycle followed from power-up.
func TestDwellsAreFollowed(t *testing.T) {
	for _, text := range []string{
		"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
		"U1 timer trigger=cap threshold=cap\nR1 output a 10\nC2 a ground 47\nR3 a cap 25\nC1 cap ground 100",
		"U1 inverter in=c\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c ground 10",
		"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nR4 ref supply 10\nC2 ref ground 1",
		"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100\nD1 discharge a",
	} {
		c, v := run(t, design(t, text))
		e := c.engine
		h, l, ok := e.dwells(&v)
		h1, l1, ok1 := e.followed(&v)
		if !ok || !ok1 {
			t.Errorf("%q: Newton %v, followed %v", text, ok, ok1)
		}
		expect.Near(t, "high", h, h1, 1e-10)
		expect.Near(t, "low", l, l1, 1e-10)
	}
}

// A node between two capacitors that takes tens of cycles to settle is solved for its steady cycle, whatever the parts are, and not
// followed through all of these: however large Newton's last step is, it is no crossing ahead of time.
func TestSlowNodesAreNotFollowed(t *testing.T) {
	c, typical := run(t, design(t, "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap m 100\nC2 m ground 100\nR3 cap m 1000\nR4 m ground 1000"))
	random := rand.New(rand.NewPCG(11, 12))
	for range 500 {
		v := typical
		for i := range c.Parts {
			v[i] *= 1 + 0.2*(2*random.Float64()-1)
		}
		if _, _, ok := c.engine.dwells(&v); !ok {
			t.Fatalf("followed with %v", v[:len(c.Parts)])
		}
	}
}

func BenchmarkWired(b *testing.B) {
	for name, text := range map[string]string{
		"two":   "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
		"diode": "U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap x 1000\nD1 x supply",
		"three": "U1 inverter in=c\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c ground 10",
	} {
		d := design(b, text)
		c, err := Of(d)
		if err != nil {
			b.Fatal(err)
		}
		v, err := c.Typical(d)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.Times(&v)
			}
		})
		b.Run(name+"/followed", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.engine.followed(&v)
			}
		})
		b.Run(name+"/compile", func(b *testing.B) {
			for b.Loop() {
				_, _ = Of(d)
			}
		})
	}
}

// A comparator that would run with its inputs exchanged is said to; one that would not either, or is another device, is not.
func TestCrossed(t *testing.T) {
	for _, k := range []struct {
		device, extra string
		want          bool
	}{
		{"U1 comparator plus=cap minus=ref", "", true},
		{"U1 comparator plus=ref minus=cap", "R5 cap ground 1", false}, // neither way round
		{"U1 comparator plus=cap minus=ref", "R5 cap ground 1", false},
		{"U1 inverter in=cap", "R5 cap ground 1", false},
	} {
		c, v := run(t, design(t, k.device+"\nR1 output cap 100\nR2 output ref 10\nR3 ref supply 10\nR4 ref ground 10\nC1 cap ground 100\n"+k.extra))
		if c.Stuck(&v) == "" || c.Crossed(&v) != k.want {
			t.Errorf("%s %s: %q, crossed %v", k.device, k.extra, c.Stuck(&v), c.Crossed(&v))
		}
	}
}

// Where a board does not run, the number that shows it.
func TestStuck(t *testing.T) {
	const board = "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100"
	check := func(text, want string) {
		t.Helper()
		c, v := run(t, design(t, text))
		if got := c.Stuck(&v); got != want {
			t.Errorf("%q:\n got %q\nwant %q", text, got, want)
		}
	}
	check(board, "")
	// A resistor of 57k across the capacitor divides by two: 2.5 V.
	check(board+"\nR3 cap ground 57", "the capacitor would settle at 2.50 V, below the upper threshold of 3.33 V")
	check(board+"\nR3 cap supply 10", "the capacitor would settle at 4.12 V, above the lower threshold of 1.67 V")
	c, v := run(t, design(t, board))
	const nothing = "neither the output nor the discharge pin reaches a capacitor that is compared"
	for _, k := range []struct{ part, missing, bridged string }{
		{"R1", "the capacitor would settle at 0.00 V, below the upper threshold of 3.33 V", nothing},
		{"R2", nothing, ""},
		{"C1", nothing, nothing},
	} {
		_, why, err := c.Missing(k.part, &v)
		if err != nil || why != k.missing {
			t.Errorf("without %s: %q, %v", k.part, why, err)
		}
		if _, why, err = c.Bridged(k.part, &v); err != nil || why != k.bridged {
			t.Errorf("bridged %s: %q, %v", k.part, why, err)
		}
	}
}
