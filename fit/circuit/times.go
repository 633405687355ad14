package circuit

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
	var f follower
	f.begin(e, v)
	high, low, ok = f.cycle()
	if !e.onePulse {
		low = v.stretch(low)
	}
	return v.stretch(high), low, ok
}
