package circuit

import "slices"

// Change lets change alter the parts in v. A leak, a bad contact and a worn discharge switch are resistances of their own,
// so that they keep their ohms although their slots hold ratios to the parts; change may alter any such slot too, to 0
// where the fault goes with the part that is taken out.
func (c *Circuit) Change(v *Values, change func(v *Values)) {
	charging, path := c.Charging(v), c.Discharging(v)
	change(v)
	by := 0.0
	for _, s := range c.means.relative {
		if v[s] == 0 {
			continue
		}
		if by == 0 {
			by = charging / c.Charging(v)
		}
		v[s] *= by
	}
	if v[WeakRatio] != 0 {
		v[WeakRatio] *= path / c.Discharging(v)
	}
}

// Relative says whether a slot holds a ratio to resistances of the board.
func (c *Circuit) Relative(s Slot) bool {
	return s == WeakRatio || slices.Contains(c.means.relative, s)
}
