package circuit

import (
	"fmt"
	"slices"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// compiled makes the engine of a wiring about nominal values, whose faults count from the bare wiring: the same but for
// what hangs on it.
func compiled(bare, w *wiring.Wiring, m *means, nominal *Values) (*engine, error) {
	pulse := w.Runs == wiring.Monostable
	plain, err := build(newBuilder(), bare, m, noExpr)
	if err != nil {
		return nil, err
	}
	charging, path := plain.resistances()
	e := plain.compile(pulse, charging, path)
	midway, ok := e.nominalCycle(nominal)
	if ok && midway|e.nominal[1] != 0 || w != bare {
		if plain, err = build(newBuilder(), bare, m, noExpr); err != nil {
			return nil, err
		}
		plain.midway, plain.ending = midway, e.nominal[1]
		charging, path = plain.resistances()
		if w != bare {
			if plain, err = build(plain.b, w, m, noExpr); err != nil {
				return nil, err
			}
			if p := plain.node(e.nodes[e.timing]); plain.isState(p) { // unless a source holds it
				plain.timing = plain.stateOf[p]
			}
		}
		again := plain.compile(pulse, charging, path)
		again.nominal, again.dwell, again.pace = e.nominal, e.dwell, e.pace
		if w != bare {
			again.nominalCycle(nominal)
		}
		e = again
	}
	if e.quick = plain.single(e.nominal); e.quick != nil {
		// Most boards that are computed have none of these faults.
		e.absent = append([]Slot{WeakRatio, Stray}, slices.DeleteFunc(slices.Clone(m.relative), func(s Slot) bool { return s == Contact })...)
		sb := newBuilder()
		sb.absent = e.absent
		sound, err := build(sb, w, m, noExpr)
		if err != nil {
			return nil, err
		}
		sound.faults(noExpr, noExpr)
		e.sound = sound.single(e.nominal)
	}
	b := plain.b
	touching, err := build(b, w, m, b.mul(b.slot(Contact), charging))
	if err != nil {
		return nil, err
	}
	t := touching.compile(pulse, charging, path)
	t.nominal, t.dwell, t.pace = e.nominal, e.dwell, e.pace
	t.quick = touching.single(t.nominal)
	e.touching = t
	return e, nil
}

// layOut gives a wiring's own quantities their slots.
func layOut(w *wiring.Wiring, d *fit.Design, shares map[string]float64) (*means, error) {
	m := &means{highStood: d.OutputHigh != nil, lowStood: d.OutputLow != nil,
		slot: map[string]Slot{}, position: map[string]Slot{}, drop: map[string]Slot{wiring.Surplus: Surplus}, node: map[string]Slot{}, leak: map[string]Slot{},
		share: shares, ratio: map[string]bool{}}
	take := func() Slot { m.next++; return m.next - 1 }
	for _, c := range w.Cards {
		if c.Kind != wiring.Diode {
			m.parts = append(m.parts, c.Name)
			m.slot[c.Name] = take()
		}
	}
	first := true
	for i := range w.Cards {
		c := &w.Cards[i]
		switch {
		case c.Kind == wiring.Potentiometer && !c.Variable():
			m.position[c.Name] = take()
		case c.Kind == wiring.Diode && first:
			m.drop[c.Name], first = DiodeDrop, false
		case c.Kind == wiring.Diode:
			m.drop[c.Name] = take()
		}
	}
	for _, h := range w.Held[2:] {
		if h == wiring.Minus {
			m.minus = true
			continue
		}
		if _, ok := shares[h]; !ok {
			m.node[h] = take()
		}
	}
	for _, n := range d.Nodes {
		m.ratio[n.Name] = n.Ratio
	}
	// The capacitor on a node that is compared has the named slot, else the first one.
	timing := -1
	for i := range w.Cards {
		if c := &w.Cards[i]; c.Kind == wiring.Capacitor && !w.Idle(c) && (timing < 0 || w.Compares(c) && !w.Compares(&w.Cards[timing])) {
			timing = i
		}
	}
	m.relative = []Slot{Contact}
	for i := range w.Cards {
		if c := &w.Cards[i]; c.Kind == wiring.Capacitor && !w.Idle(c) {
			if m.leak[c.Name] = LeakRatio; i != timing {
				m.leak[c.Name] = take()
			}
			m.relative = append(m.relative, m.leak[c.Name])
		}
	}
	if m.next > MaxParts {
		return nil, tooMany(&w.Cards[len(w.Cards)-1], fmt.Sprintf("the wiring has %d parts, diodes and held nodes", m.next), MaxParts)
	}
	return m, nil
}
