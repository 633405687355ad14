package circuit

import (
	"fmt"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// What hangs on a node makes the times of the board on which it is drawn, its leaks and its worn switch as they were in ohm.
func TestLoadedIsDrawn(t *testing.T) {
	tried := 0
	for _, text := range boards {
		if strings.Contains(text, "minus ") || strings.Contains(text, " ref") || strings.HasSuffix(text, " minus") {
			continue // nodes that another source holds
		}
		bare, v := run(t, design(t, text))
		v[LeakRatio], v[WeakRatio] = 40, 0.02
		for _, node := range bare.Wiring.Nodes {
			if bare.Wiring.Loose(node) != nil || !bare.Wiring.Tied(node) {
				continue
			}
			for card, set := range map[string][]Load{
				"R99 %s ground 220":                        {{node, LoadOhm, 220e3}},
				"C99 %s ground 7":                          {{node, LoadFarad, 7e-9}},
				"R99 %[1]s ground 330\nC99 %[1]s ground 3": {{node, LoadOhm, 330e3}, {node, LoadFarad, 3e-9}},
			} {
				drawn, w := run(t, design(t, text+"\n"+fmt.Sprintf(card, node)))
				if drawn.OnePulse != bare.OnePulse {
					continue
				}
				c, err := bare.Loaded([][]Load{{{node, LoadOhm, 1e3}}, set})
				if err != nil {
					t.Fatal(text, node, err)
				}
				u := v
				u[Loads] = 2
				for i, l := range set {
					u[c.LoadSlot(i)] = l.Value
				}
				w[LeakRatio] = v[LeakRatio] * bare.Charging(&v) / drawn.Charging(&w)
				if p := drawn.Discharging(&w); p > 0 {
					w[WeakRatio] = v[WeakRatio] * bare.Discharging(&v) / p
				} else {
					u[WeakRatio] = 0 // the load is at the discharge pin itself
				}
				if leaks(bare) != leaks(drawn) {
					continue // the load is the capacitor that the device sees first
				}
				h0, l0, ok0 := drawn.Times(&w)
				h1, l1, ok1 := c.Times(&u)
				if ok0 != ok1 {
					t.Errorf("%q with %v: drawn runs %v, hung on %v", text, set, ok0, ok1)
				}
				if ok0 && ok1 {
					tried++
					expect.Near(t, text+" with "+card+" "+node+" high", h1, h0, 1e-9)
					expect.Near(t, text+" with "+card+" "+node+" low", l1, l0, 1e-9)
				}
				if h, _, _ := c.Times(&v); ok0 {
					was, _, _ := bare.Times(&v)
					expect.Near(t, "without it", h, was, 1e-15)
				}
			}
		}
	}
	if tried < 40 {
		t.Errorf("%d loads tried", tried)
	}
}

// leaks names the capacitor of the first leak.
func leaks(c *Circuit) string { return c.Parts[c.Capacitor()].Name }

// A driven node is one of those that the design holds; what stands still is worked by hand.
func TestVoltages(t *testing.T) {
	const board = "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 control ground 15"
	c, v := run(t, design(t, board))
	volt, err := c.Voltage("CONTROL")
	if err != nil {
		t.Fatal(err)
	}
	expect.Near(t, "control", volt(&v), 5*6/(6+5.), 1e-12) // 10k beside 15k, below 5k
	if got := fmt.Sprint(c.Still()); got != "[supply control]" {
		t.Errorf("stands still: %s", got)
	}
	if _, err := c.Voltage("cap"); err == nil || !strings.Contains(err.Error(), "supply, control") {
		t.Errorf("cap: %v", err)
	}
	driven, err := c.Loaded([][]Load{{{"control", LoadVolt, 3}}})
	if err != nil {
		t.Fatal(err)
	}
	plain, w := run(t, design(t, strings.TrimSuffix(board, "\nR3 control ground 15")))
	w[Upper] = 3. / 5
	v[Loads], v[driven.LoadSlot(0)] = 1, 3
	h, l, _ := driven.Times(&v)
	h0, l0, _ := plain.Times(&w)
	expect.Near(t, "high", h, h0, 1e-12)
	expect.Near(t, "low", l, l0, 1e-12)
	if _, err := c.Loaded([][]Load{{{"output", LoadOhm, 1e3}}}); err == nil {
		t.Error("a load on the output, which has no resistance, was taken")
	}
	if _, err := driven.Loaded([][]Load{{{"nix", LoadOhm, 1e3}}}); err == nil {
		t.Error("a load on no node was taken")
	}
}

// What hangs on a base of the multivibrator makes the half-cycle of that base's transistor as the integration of Kirchhoff's law
// has it: the base rests on its junction, the other collector falls, and the base rises back to where the junction conducts.
func TestLoadedMultivibrator(t *testing.T) {
	v := Ideal(9)
	v[0], v[1], v[2], v[3], v[BaseEmitter], v[SwitchVoltage] = 47e3, 100e-9, 68e3, 33e-9, 0.65, 0.1
	set := []Load{{wiring.PinBase1, LoadOhm, 1e6}, {wiring.PinBase1, LoadFarad, 12e-9}, {wiring.PinBase2, LoadOhm, 2e6}, {wiring.PinBase2, LoadOhm, 3e6}}
	c, err := multivibrator.Loaded([][]Load{{{wiring.PinBase2, LoadFarad, 1e-9}}, set})
	if err != nil {
		t.Fatal(err)
	}
	bare, _, _ := multivibrator.Times(&v)
	if high, _, _ := c.Times(&v); high != bare {
		t.Errorf("without its loads %v, want %v", high, bare)
	}
	v[Loads] = 2
	for i, l := range set {
		v[c.LoadSlot(i)] = l.Value
	}
	for _, breakdown := range []float64{0, 6} {
		v[Breakdown] = breakdown
		high, low, ok := c.Times(&v)
		if why := c.Stuck(&v); !ok || why != "" {
			t.Fatal("does not run", why)
		}
		for side, got := range []float64{high, low} {
			base := []string{wiring.PinBase1, wiring.PinBase2}[side]
			b := &fittest.Board{Held: map[string]float64{"supply": v[Supply]}, Output: "collector", High: v[SwitchVoltage], Low: v[Supply],
				Resistors:  []fittest.Two{{A: "supply", B: base, Value: v[2*side]}},
				Capacitors: []fittest.Two{{A: base, B: "collector", Value: v[2*side+1]}},
				Diodes:     []fittest.Two{{A: base, B: "ground", Value: v[BaseEmitter]}},
				FallWhen:   []fittest.Test{{Left: base, LeftBy: 1, RightBy: v[BaseEmitter] - 1e-9}}}
			if breakdown > 0 {
				b.Diodes = append(b.Diodes, fittest.Two{A: "ground", B: base, Value: breakdown})
			}
			for _, l := range set {
				if two := (fittest.Two{A: base, B: "ground", Value: l.Value}); l.Node == base && l.Kind == LoadFarad {
					b.Capacitors = append(b.Capacitors, two)
				} else if l.Node == base {
					b.Resistors = append(b.Resistors, two)
				}
			}
			want, err := b.Pulse()
			if err != nil {
				t.Fatal(err)
			}
			expect.Near(t, base, got, want, 1e-8)
		}
	}
	v[c.LoadSlot(0)] = 3e3
	if _, _, ok := c.Times(&v); ok {
		t.Error("runs with 3 kohm from base1 to ground")
	}
	if why := c.Stuck(&v); why != "base1 would settle at 0.540 V, below the 0.650 V at which it turns its transistor on" {
		t.Error(why)
	}
	for _, node := range []string{wiring.PinCollector2, wiring.PinOutput, "control"} {
		if _, err := multivibrator.Loaded([][]Load{{{node, LoadOhm, 1e6}}}); err == nil {
			t.Errorf("a load on %s is taken", node)
		}
	}
}

// What the design states of the output reaches a circuit that it names, as it reaches its wiring.
func TestStatedOutputOfNamedCircuit(t *testing.T) {
	d := &fit.Design{Circuit: "astable-output", Family: fit.CMOS, Supply: fit.Reading{Value: 5}, OutputHigh: &fit.Reading{Value: 4}, OutputLow: &fit.Reading{Value: 0.5},
		Parts: []fit.Part{{Name: "R1", Nominal: 47e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9}}}
	c, err := Of(d)
	if err != nil {
		t.Fatal(err)
	}
	v, err := c.Typical(d)
	if err != nil {
		t.Fatal(err)
	}
	v[Bias], v[DelayFall], v[DelayRise] = 0, 0, 0
	high, low, ok := c.Times(&v)
	wantHigh, wantLow, err := fittest.Integrate(fittest.Network{Circuit: fittest.AstableOutput, Supply: 5, R1: 47e3, C: 100e-9, OutputHigh: 4, OutputLow: 0.5})
	if groups, _ := c.Groups(); err != nil || !ok || c.Name != d.Circuit || len(groups) != 1 {
		t.Fatal(err, ok, c.Name, groups)
	}
	expect.Near(t, "high", high, wantHigh, 1e-9)
	expect.Near(t, "low", low, wantLow, 1e-9)
}
