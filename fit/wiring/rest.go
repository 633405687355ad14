package wiring

import "slices"

// Levels of an output that stands still.
const (
	StandsHigh = 1
	StandsLow  = -1
)

// Rests tells of a board that keeps no time where its output stands, from what is tied to what alone; 0: the parts' values decide.
// As at power-up the capacitors are empty, and a node that nothing reaches is low. It knows devices that one node switches.
func (w *Wiring) Rests() int {
	d := &w.Device
	pin := map[string]string{Timer: PinThreshold, Inverter: PinIn}[d.Kind]
	if pin == "" || d.Kind == Timer && d.Node(PinTrigger) != d.Node(PinThreshold) {
		return 0
	}
	x := d.Node(pin)
	up, down := w.pulled(x, false)
	lifted := slices.ContainsFunc(w.Cards, func(c Card) bool {
		return c.Kind == Capacitor && slices.Contains(c.Nodes, x) && !slices.Contains(c.Nodes, Ground)
	})
	switch {
	case !up && (down || !lifted):
		return StandsHigh
	case up && !down:
		if up, down = w.pulled(x, true); up && !down {
			return StandsLow
		}
	}
	return 0
}

// pulled says whether direct current reaches a node from above, from below, or both, in a state of the output. What a diode, a
// control pin or a node of the design's own brings is taken for both.
func (w *Wiring) pulled(node string, low bool) (up, down bool) {
	met := map[string]bool{}
	var visit func(n string)
	visit = func(n string) {
		if met[n] {
			return
		}
		met[n] = true
		d := &w.Device
		switch {
		case n == Supply, n == d.Node(PinOutput) && !low:
			up = true
			return
		case n == Ground, n == d.Node(PinOutput):
			down = true
			return
		case w.IsHeld(n), n == d.Node(PinControl):
			up, down = true, true
			return
		case n == d.Node(PinDischarge) && low:
			down = true
		}
		for _, c := range w.Cards {
			for _, own := range c.Nodes {
				switch {
				case own != n || c.Kind == Capacitor:
				case c.Kind == Diode:
					up, down = true, true
				default:
					for _, other := range c.Nodes {
						visit(other)
					}
				}
			}
		}
	}
	visit(node)
	return up, down
}
