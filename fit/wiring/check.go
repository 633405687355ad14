package wiring

import (
	"slices"
	"strings"
)

// finish names the nodes, refuses what no board is, and says what runs.
func (w *Wiring) finish(held []string) error {
	w.Held = append([]string{Ground, Supply}, held...)
	for _, check := range []func() error{w.name, w.distinct, w.pins, w.ends} {
		if err := check(); err != nil {
			return err
		}
	}
	w.separate()
	if err := w.grounded(); err != nil {
		return err
	}
	if err := w.mode(); err != nil {
		return err
	}
	w.settle()
	return nil
}

// name gives each node the name by which it was first met, held ones theirs.
func (w *Wiring) name() error {
	canonical := map[string]string{"0": Ground}
	for _, h := range w.Held {
		canonical[strings.ToLower(h)] = h
	}
	name := func(n string) string {
		low := strings.ToLower(n)
		if c, ok := canonical[low]; ok {
			return c
		}
		canonical[low] = n
		return n
	}
	met := func(n string) {
		if !slices.Contains(w.Nodes, n) {
			w.Nodes = append(w.Nodes, n)
		}
	}
	pins := func(named bool) {
		for i := range w.Device.Pins {
			if p := &w.Device.Pins[i]; p.Named == named {
				p.Node = name(p.Node)
				met(p.Node)
			}
		}
	}
	pins(true)
	for _, c := range w.Cards {
		for k, n := range c.Nodes {
			c.Nodes[k] = name(n)
			met(c.Nodes[k])
		}
	}
	pins(false)
	return nil
}

// distinct refuses two parts of one name, nodes that bear a part's or a moved pin's name, and a rail that there is not.
func (w *Wiring) distinct() error {
	parts := map[string]string{strings.ToLower(w.Device.Name): w.Device.Kind}
	for _, c := range w.Cards {
		low := strings.ToLower(c.Name)
		if first, twice := parts[low]; twice {
			return &Error{c.Line, c.Column, c.Name + " stands twice (first: " + c.Name + " " + first + ")", "a name of its own for each part"}
		}
		parts[low] = strings.Join(c.Nodes, " ")
	}
	check := func(n string, line, column int) error {
		if _, bears := parts[strings.ToLower(n)]; bears {
			return &Error{line, column, "the node " + n + " bears a part's name", "a node's name that no part has"}
		}
		if strings.EqualFold(n, Minus) && !slices.Contains(w.Held, Minus) {
			return &Error{line, column, "the node minus is the negative rail, and the design states none", `minus = "-15 V ± 2 %" beside supply, or another node`}
		}
		for _, p := range w.Device.Pins {
			if strings.EqualFold(n, p.Name) && p.Named && !strings.EqualFold(p.Node, p.Name) && !w.rail(n) {
				return &Error{line, column, "the pin " + p.Name + " is on " + p.Node + ", so " + quoted(n) + " is no node", p.Node}
			}
		}
		return nil
	}
	for _, p := range w.Device.Pins {
		if err := check(p.Node, w.Device.Line, w.Device.Column); err != nil && p.Named {
			return err
		}
	}
	for _, c := range w.Cards {
		for i, n := range c.Nodes {
			if err := check(n, c.Line, c.at(i)); err != nil {
				return err
			}
		}
	}
	return nil
}

// pins refuses pins on nodes where they cannot be.
func (w *Wiring) pins() error {
	d := &w.Device
	fault := func(what, want string) error { return &Error{d.Line, d.Column, what, want} }
	for _, p := range d.Pins {
		switch p.Name {
		case PinSupply, PinGround:
			if p.Node != p.Name {
				return fault("the timer's pin "+p.Name+" is on "+p.Node, p.Name+"="+p.Name+", or nothing: it is there by itself")
			}
		case PinReset:
			if p.Node != Supply && (w.rail(p.Node) || w.onNode(p.Node) > 0) {
				return fault("the pin reset is on "+p.Node+": gated oscillators are not modelled", "reset=supply, or nothing on it")
			}
		case PinOutput, PinDischarge:
			if w.rail(p.Node) {
				return fault("the pin "+p.Name+" is on "+p.Node+", which a source holds", "a node of its own")
			}
		}
	}
	if out := d.Node(PinOutput); out == d.Node(PinDischarge) {
		return fault("the pins output and discharge are both on "+out, "a node of its own for the output, which has no resistance")
	}
	for _, pin := range compares[d.Kind] {
		if n := d.Node(pin); n == d.Node(PinOutput) {
			return fault("the pin "+pin+" is on the output itself", "a part between the two")
		} else if pin != PinControl && n == d.Node(PinControl) {
			return fault("the pins "+pin+" and control are both on "+n, "a node of its own for each")
		}
	}
	if d.Kind == Comparator && d.Node(PinPlus) == d.Node(PinMinus) {
		return fault("both inputs are on "+d.Node(PinPlus), "a node of its own for each input")
	}
	return nil
}

// ends refuses parts across nothing and nodes that lead nowhere.
func (w *Wiring) ends() error {
	for i := range w.Cards {
		c := &w.Cards[i]
		if first := c.Nodes[0]; !slices.ContainsFunc(c.Nodes, func(n string) bool { return n != first }) {
			return &Error{c.Line, c.Column, "every end of " + c.Name + " is on " + first, "two nodes"}
		}
		for i, n := range c.Nodes {
			if w.onNode(n) > 1 || w.rail(n) || slices.ContainsFunc(w.Device.Pins, func(p Pin) bool { return p.Node == n }) {
				continue
			}
			return &Error{c.Line, c.at(i), "nothing but one end of " + c.Name + " is on the node " + n, w.suggestion(n)}
		}
	}
	return nil
}

// suggestion is what a lone node may have meant.
func (w *Wiring) suggestion(lone string) string {
	others := slices.DeleteFunc(slices.Clone(w.Nodes), func(n string) bool { return n == lone })
	return "a second part or a pin on it, or one of the nodes " + strings.Join(others, ", ") + "; a node that a source holds stands in [nodes]"
}

// grounded refuses nodes from which no direct current has a way to a held one.
func (w *Wiring) grounded() error {
	const held = " held" // no node's name
	ways := sets{}
	for _, n := range w.Nodes {
		if w.IsHeld(n) || n == w.Device.Node(PinDischarge) || w.Device.Kind == Timer && n == w.Device.Node(PinControl) {
			ways.join(n, held)
		}
	}
	for _, c := range w.Cards {
		if c.Kind == Capacitor {
			continue
		}
		for _, n := range c.Nodes[1:] {
			ways.join(n, c.Nodes[0])
		}
	}
	for _, c := range w.Cards {
		for i, n := range c.Nodes {
			if ways.root(n) != ways.root(held) {
				return &Error{c.Line, c.at(i), "from the node " + n + " direct current has no way to a node that is held at a voltage", "a resistor or a diode from it, not capacitors alone"}
			}
		}
	}
	return nil
}
