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
			if k := plain.stateOf[plain.node(e.nodes[e.timing])]; k >= 0 { // unless a source holds it
				plain.timing = k
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
		slot: map[string]Slot{}, position: map[string]Slot{}, drop: map[string]Slot{}, node: map[string]Slot{}, leak: map[string]Slot{},
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

// wired compiles a wiring about its design's nominal values; shares are nodes held at a share of the supply.
func wired(w *wiring.Wiring, d *fit.Design, shares map[string]float64) (*Circuit, error) {
	if w.Runs == wiring.Bistable {
		c := bistable
		c.Wiring = w
		return &c, nil
	}
	m, err := layOut(w, d, shares)
	if err != nil {
		return nil, err
	}
	c := &Circuit{Name: "wired", Title: w.Title, Wiring: w, means: m, variants: &cache[string]{}, OnePulse: w.Runs == wiring.Monostable}
	if c.Title == "" {
		c.Title = "the board as it is wired"
	}
	for i := range w.Cards {
		switch k := &w.Cards[i]; k.Kind {
		case wiring.Diode:
		case wiring.Capacitor:
			c.Parts = append(c.Parts, Spec{k.Name, fit.Capacitor, w.Idle(k)})
		default:
			c.Parts = append(c.Parts, Spec{k.Name, fit.Resistor, w.Idle(k)})
		}
	}
	c.Families, c.Suits, c.Default = timerTerms, timers, fit.Bipolar
	switch w.Device.Kind {
	case wiring.Inverter:
		c.Families, c.Suits, c.Default = inverterTerms, nil, fit.CMOS
	case wiring.Comparator:
		c.Families, c.Suits, c.Default = comparatorTerms, nil, fit.CMOS
	}
	c.bring(d)
	family := *d
	if family.Family == "" {
		family.Family = c.Default
	}
	nominal, err := c.nominal(&family)
	if err != nil {
		return nil, err
	}
	c.about = *nominal
	if err := c.compile(nominal); err != nil {
		return nil, err
	}
	c.fix(*nominal)
	return c, nil
}

// compile makes the circuit's law about nominal values.
func (c *Circuit) compile(nominal *Values) error {
	e, err := compiled(c.Wiring, c.Wiring, c.means, nominal)
	if err != nil {
		return err
	}
	c.engine = e
	c.bind()
	c.Bends = e.nominal[0] != 0
	c.Terms, c.Faults = nil, nil
	for _, s := range c.order() {
		if s == DelayFall || s == DelayRise || e.reads(s) {
			c.Terms = append(c.Terms, s)
		}
	}
	timer := c.Wiring.Device.Kind == wiring.Timer
	if timer && e.reads(OutputDrop) {
		c.Default = fit.CMOS // the output has to reach the rails
	}
	c.Faults = append(c.Faults, LeakRatio, Contact, Stray)
	if timer && !c.Wiring.IsHeld(c.Wiring.Device.Node(wiring.PinControl)) {
		c.Faults = append(c.Faults, Upper)
	}
	if e.hasPath && !c.OnePulse {
		c.Faults = append(c.Faults, WeakRatio)
	}
	return c.hang(nominal)
}

// order is that of the second-order terms in lists.
func (c *Circuit) order() []Slot {
	all := []Slot{Upper, Half, SwitchVoltage, SwitchResistance, DelayFall}
	if !c.OnePulse {
		all = append(all, DelayRise)
	}
	all = append(all, Bias, OtherBias, DiodeDrop)
	for s := Slot(len(c.Parts)); s < MaxParts; s++ {
		all = append(all, s)
	}
	return append(all, OutputDrop, OutputHigh, OutputLow, Ladder, Minus)
}

// nominal are the values about which the circuit is compiled: every term of the family, whether the law reads it or not.
func (c *Circuit) nominal(d *fit.Design) (*Values, error) {
	v := Ideal(d.Supply.Value)
	for _, p := range c.Families[d.Family] {
		v[p.Slot] = p.Typical()
		for _, k := range c.plain {
			if p.Slot == DiodeDrop {
				v[k.Slot] = p.Typical()
			}
		}
	}
	if d.Upper.Value > 0 {
		v[Upper] = d.Upper.Value
	}
	if d.Lower.Value > 0 {
		v[Half] = d.Lower.Value / v[Upper]
	}
	return &v, c.Fill(&v, d)
}

// bring collects what the wiring brings besides the family's terms: where wipers stand, nodes that a source holds, drops
// that the design states, the rail below and the output's levels.
func (c *Circuit) bring(d *fit.Design) {
	m := c.means
	for _, k := range c.Wiring.Cards {
		if s, ok := m.position[k.Name]; ok {
			if p := d.Part(k.Name); p != nil && p.Position.Value > 0 {
				c.take(s, "position of "+k.Name, p.Position)
			} else {
				c.brings = append(c.brings, Prior{s, "position of " + k.Name, Uniform, 0, 1, "anywhere along its track: nobody read it"})
			}
		}
		if s, ok := m.drop[k.Name]; ok {
			c.drop(d, k.Name, s)
		}
	}
	for _, n := range d.Nodes {
		if s, ok := m.node[n.Name]; ok {
			c.take(s, "node "+n.Name, n.Reading)
		}
	}
	if m.minus {
		c.take(Minus, "negative rail", d.Minus)
	}
	if d.OutputHigh != nil {
		c.take(OutputHigh, "output high level", *d.OutputHigh)
	}
	if d.OutputLow != nil {
		c.take(OutputLow, "output low level", *d.OutputLow)
	}
}

// dropOf begins the name of a diode's drop.
const dropOf = "drop of "

// drop brings a diode's: what the design states of it, or that of its kind. One of which the design says nothing is the
// family's, and ideal in the ideal family.
func (c *Circuit) drop(d *fit.Design, name string, s Slot) {
	what := dropOf + name
	for _, x := range d.Diodes {
		switch {
		case x.Name != name:
		case x.Drop.Value > 0:
			c.take(s, what, x.Drop)
			return
		case x.Kind == fit.IdealDiode:
			c.fixed = append(c.fixed, setting{s, 0})
			return
		case x.Kind != "":
			p := diodeKinds[x.Kind]
			p.Slot, p.Name = s, what
			c.brings = append(c.brings, p)
			return
		}
	}
	if d.Wiring != nil {
		c.plain = append(c.plain, Prior{Slot: s, Name: what})
	}
}

// take brings a slot's value as the design states it.
func (c *Circuit) take(s Slot, name string, r fit.Reading) {
	if r.Half > 0 || r.Standard > 0 {
		c.brings = append(c.brings, stated(s, name, r))
	} else {
		c.fixed = append(c.fixed, setting{s, r.Value})
	}
}
