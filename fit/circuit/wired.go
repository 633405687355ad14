package circuit

import (
	"cmp"
	"sync"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

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
	c.Title = cmp.Or(c.Title, "the board as it is wired")
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
	family.Family = cmp.Or(family.Family, c.Default)
	nominal, err := c.nominal(&family)
	if err != nil {
		return nil, err
	}
	c.about = *nominal
	if err := c.compile(nominal); err != nil {
		return nil, err
	}
	c.Groups = sync.OnceValues(func() ([]Group, []int) { return c.fix(*nominal) })
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

// bistable: a set-reset latch. It has no timing part and no law; package latch checks its truth table.
var bistable = Circuit{
	Name:     "bistable",
	Title:    "bistable, a set-reset latch: its truth table is checked, no part is timed",
	Latch:    true,
	Groups:   func() ([]Group, []int) { return nil, nil },
	means:    &means{},
	Default:  fit.Bipolar,
	Families: map[string][]Prior{fit.Bipolar: nil, fit.CMOS: nil},
}
