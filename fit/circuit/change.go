package circuit

// Change lets change alter the parts in v. A leak and a worn discharge switch are resistances of their own, so
// that they keep their ohms although their slots hold ratios to the parts; change may set either slot to 0,
// where the fault goes with the part that is taken out.
func (c *Circuit) Change(v *Values, change func(v *Values)) {
	leak, weak := v[LeakRatio]*c.Charging(v), v[WeakRatio]*v[1]
	change(v)
	if v[LeakRatio] != 0 {
		v[LeakRatio] = leak / c.Charging(v)
	}
	if v[WeakRatio] != 0 {
		v[WeakRatio] = weak / v[1]
	}
}
