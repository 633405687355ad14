package circuit

import (
	"fmt"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
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
