package circuit

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"offbeat/fit/wiring"
)

// Loaded is the circuit with each set of loads compiled beside it: a board whose slot Loads holds k is the one with set k,
// from 1, hung on it, the values of its loads in the slots from LoadSlot(0) on. What the faults count from stays the board
// without them. The error, a *wiring.Error, says why a load cannot be.
func (c *Circuit) Loaded(sets [][]Load) (*Circuit, error) {
	if len(sets) == 0 {
		return c, nil
	}
	for _, set := range sets {
		for _, l := range set {
			if err := c.Wiring.Loose(l.Node); err != nil {
				return nil, err
			}
		}
		if n := int(c.means.next) + len(set); n > MaxParts {
			return nil, &wiring.Error{What: fmt.Sprintf("the wiring and what hangs on it have %d parts, diodes and held nodes", n), Want: fmt.Sprintf("at most %d", MaxParts)}
		}
	}
	return c.variants.get(fmt.Sprint("loaded ", sets), nil, func() (*Circuit, error) {
		k := *c
		k.loads, k.loaded, k.variants = sets, nil, &cache[string]{}
		if c.engine == nil {
			k.Times = coupled(sets).times
			return &k, nil
		}
		k.bind()
		return &k, k.hang(&c.about)
	})
}

// LoadSlot is the slot of the value of a set's load of that number, from 0.
func (c *Circuit) LoadSlot(i int) Slot { return c.means.next + Slot(i) }

// hang compiles the circuit with each set of loads about nominal values.
func (c *Circuit) hang(nominal *Values) error {
	for _, set := range c.loads {
		m, v := *c.means, *nominal
		m.slot, m.node, m.ratio = maps.Clone(m.slot), maps.Clone(m.node), maps.Clone(m.ratio)
		var cards []wiring.Card
		var held []string
		for i, l := range set {
			if c.Wiring.Loose(l.Node) != nil {
				continue // a bridge has tied it to a held one
			}
			slot := c.LoadSlot(i)
			v[slot] = l.Value
			node, _ := c.Wiring.Node(l.Node)
			card := wiring.Card{Name: fmt.Sprint(" load ", i), Kind: wiring.Resistor, Nodes: []string{node, wiring.Ground}} // no part's name
			if m.slot[card.Name] = slot; l.Kind == LoadFarad {
				card.Kind = wiring.Capacitor
			}
			if l.Kind == LoadVolt {
				m.node[node] = slot
				held = append(held, node)
				continue
			}
			cards = append(cards, card)
		}
		e, err := compiled(c.Wiring, c.Wiring.With(cards, held), &m, &v)
		if err != nil {
			return err
		}
		c.loaded = append(c.loaded, e)
		if e.quick == nil {
			c.Curve = nil
		}
	}
	return nil
}

// bind makes the law that of this circuit.
func (c *Circuit) bind() {
	c.Times, c.Curve = c.times, nil
	if c.engine.quick != nil {
		c.Curve = c.curve
	}
}

// law is the engine of the board that the values are of.
func (c *Circuit) law(v *Values) *engine {
	if k := v[Loads]; k != 0 {
		return c.loaded[int(k)-1]
	}
	return c.engine
}

func (c *Circuit) times(v *Values) (high, low float64, ok bool) { return c.law(v).times(v) }

func (c *Circuit) curve(v *Values) Curve { return c.law(v).curve(v) }

// Voltage computes a node's voltage against ground, in V, which stands still while the board runs: of a held node, or of one
// that no way leads to from the output, the discharge pin or a capacitor that swings. The error, a *wiring.Error, names
// those there are.
func (c *Circuit) Voltage(node string) (func(v *Values) float64, error) {
	if n, ok := c.Wiring.Node(node); ok && c.engine != nil && slices.Contains(c.Still(), n) {
		if t, err := c.still(n); err == nil {
			return func(v *Values) float64 {
				var out [1]float64
				t.eval(v, out[:])
				return out[0]
			}, nil
		}
	}
	return nil, &wiring.Error{What: "the voltage of the node " + node + " does not stand still", Want: "one of " + strings.Join(c.Still(), ", ")}
}

// Still lists the nodes whose voltage stands still while the board runs and tells something, but for ground.
func (c *Circuit) Still() []string {
	if c.Wiring == nil {
		return []string{wiring.Supply}
	}
	return slices.DeleteFunc(c.Wiring.StillNodes(), func(n string) bool {
		_, share := c.means.share[n]
		return share
	})
}

// ControlAlone says whether the node is the control pin with no part on it, so that its voltage is Upper times the supply.
func (c *Circuit) ControlAlone(node string) bool {
	if c.Wiring == nil {
		return false
	}
	pin := c.Wiring.Device.Node(wiring.PinControl)
	return pin != "" && strings.EqualFold(node, pin) && !c.Wiring.Loaded(pin)
}

// Holds says whether the design holds the node at a voltage of its own, the supply and ground aside.
func (c *Circuit) Holds(node string) bool {
	_, ok := c.Node(node)
	return ok || node == wiring.Minus && c.means.minus
}

// IsRatio says whether the design holds the node at a ratio to the supply.
func (c *Circuit) IsRatio(node string) bool { return c.means.ratio[node] }

// still compiles the voltage of a node that stands still.
func (c *Circuit) still(node string) (*tape, error) {
	if c.ControlAlone(node) {
		b := newBuilder()
		return b.compile(b.mul(b.slot(Upper), b.slot(Supply))), nil
	}
	n, err := build(newBuilder(), c.Wiring, c.means, noExpr)
	if err != nil {
		return nil, err
	}
	l := n.solve(false, c.engine.nominal[0])
	return n.b.compile(l.volt(n.node(node))[0]), nil
}

// times are the law's high and low time.
func (e *engine) times(v *Values) (high, low float64, ok bool) {
	if v[Contact] != 0 {
		e = e.touching
	}
	if e.quick != nil {
		if high, low, ok, sure := e.single(v); sure {
			return high, low, ok
		}
	} else if e.n > 1 && !e.onePulse {
		if high, low, ok := e.dwells(v); ok {
			return high, low, ok
		}
	}
	return e.followed(v)
}

// followed are the times of the cycle that power-up leads to, followed until it repeats.
func (e *engine) followed(v *Values) (high, low float64, ok bool) {
	f := followers.Get().(*follower)
	defer followers.Put(f)
	f.begin(e, v)
	high, low, ok = f.cycle()
	if !e.onePulse {
		low = v.stretch(low)
	}
	return v.stretch(high), low, ok
}

// Change lets change alter the parts in v. A leak, a bad contact and a worn discharge switch are resistances of their own,
// so that they keep their ohms although their slots hold ratios to the parts; change may alter any such slot too, to 0
// where the fault goes with the part that is taken out.
func (c *Circuit) Change(v *Values, change func(v *Values)) {
	was := *v
	change(v)
	by := 0.0
	for _, s := range c.means.relative {
		if v[s] == 0 {
			continue
		}
		if by == 0 {
			by = c.Charging(&was) / c.Charging(v)
		}
		v[s] *= by
	}
	if v[WeakRatio] != 0 {
		v[WeakRatio] *= c.Discharging(&was) / c.Discharging(v)
	}
}

// Relative says whether a slot holds a ratio to resistances of the board.
func (c *Circuit) Relative(s Slot) bool {
	return s == WeakRatio || slices.Contains(c.means.relative, s)
}
