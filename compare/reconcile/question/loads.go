package question

import (
	"fmt"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/wiring"
)

// loadKinds are the conditions that hang something on a node.
var loadKinds = map[fit.ConditionKind]circuit.LoadKind{fit.ToGround: circuit.LoadOhm, fit.StrayTo: circuit.LoadFarad, fit.HeldAt: circuit.LoadVolt}

// hang compiles the board's circuit with what the settings hang on its nodes, and numbers the sets of loads in them.
func hang(b *cause.Board, groups ...[]Setting) error {
	var sets [][]circuit.Load
	for _, set := range groups {
		for i := range set {
			var loads []circuit.Load
			for _, k := range set[i].Conditions {
				kind, ok := loadKinds[k.Kind]
				if _, own := source(k, b.Circuit); ok && !own {
					loads = append(loads, circuit.Load{Node: k.Part, Kind: kind, Value: k.Known.Value})
				}
			}
			if len(loads) > 0 {
				sets = append(sets, loads)
				set[i].loads = len(sets)
			}
		}
	}
	c, err := b.Circuit.Loaded(sets)
	if err != nil {
		return fmt.Errorf("the board with the conditions of its captures: %w", err)
	}
	b.Circuit = c
	return nil
}

// source says whether a condition is another voltage of a source that the design has.
func source(k fit.Condition, c *circuit.Circuit) (circuit.Slot, bool) {
	if k.Kind != fit.HeldAt {
		return 0, false
	}
	if k.Part == wiring.Minus {
		return circuit.Minus, true
	}
	return c.Node(k.Part)
}

// load makes the act of a condition of a node: its number among those that the setting hangs on the board.
func (k *bench) load(at, number int, c fit.Condition) act {
	if slot, ok := source(c, k.board.Circuit); ok {
		ratio := k.board.Circuit.IsRatio(c.Part)
		return func(v *circuit.Values, extra []float64) {
			if v[slot] = extra[at]; ratio {
				v[slot] /= v[circuit.Supply]
			}
		}
	}
	slot := k.board.Circuit.LoadSlot(number)
	return func(v *circuit.Values, extra []float64) { v[slot] = extra[at] }
}

// nodeFacts are the readings of nodes: what stands still there is computed from the board. Parts and the supply, and the
// control pin where nothing hangs on it, are read by priors.
func nodeFacts(c *circuit.Circuit, d *fit.Design, control bool) ([]posterior.Fact, error) {
	var out []posterior.Fact
	for _, r := range d.Readings {
		if _, part := c.Slot(r.Name); part || r.Name == wiring.Supply || !control && c.ControlAlone(r.Name) {
			continue
		}
		if _, err := c.Voltage(r.Name); err != nil {
			return nil, fmt.Errorf("the reading of %s: %w", r.Name, err)
		}
		scale := d.Supply.Value
		on := func(c *circuit.Circuit) func(v *circuit.Values) float64 {
			volt, err := c.Voltage(r.Name)
			if err != nil {
				return nil
			}
			return func(v *circuit.Values) float64 { return volt(v) / scale }
		}
		out = append(out, posterior.Fact{Of: on(c), On: on, Value: r.Value / scale, Half: r.Half / scale, Standard: r.Standard / scale})
	}
	return out, nil
}
