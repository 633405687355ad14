package circuit

// Change lets change alter the parts in v. A leak and a worn discharge switch are resistances of their own, so
// that they keep their ohms although their slots hold ratios to the parts; change may alter either slot too, to 0
// where the fault goes with the part that is taken out.
func (c *Circuit) Change(v *Values, change func(v *Values)) {
	charging, path := c.Charging(v), c.Discharging(v)
	change(v)
	for _, s := range []Slot{LeakRatio, Contact} {
		if v[s] != 0 {
			v[s] *= charging / c.Charging(v)
		}
	}
	if v[WeakRatio] != 0 {
		v[WeakRatio] *= path / c.Discharging(v)
	}
}
