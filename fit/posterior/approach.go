package posterior

import "slices"

// approach moves z as near to a solution as all unknowns together can bring it: least steps in the priors' spreads
// (Gauss-Newton), each unknown within its support. What barely shows at the medians, like a leak, may be what decides
// at the far end of its prior, and is met on the way.
func (s *system) approach(z []float64) {
	r, trial := make([]float64, s.times()), make([]float64, s.times())
	if !s.residual(z, r) {
		return
	}
	cols := make([][]float64, len(z))
	for j := range cols {
		cols[j] = make([]float64, len(r))
	}
	for range 40 {
		if worst(r) < s.tol {
			return
		}
		s.scaled(z, r, cols)
		rates, _ := tiltRates(cols, r)
		// Those that already stand at the end they are driven to leave the way to the others.
		for j := range cols {
			if rates[j] > 0 && z[j] >= s.to[j] || rates[j] < 0 && z[j] <= s.from[j] {
				clear(cols[j])
			}
		}
		rates, _ = tiltRates(cols, r)
		if !s.descend(z, rates, worst(r), trial) {
			return
		}
		copy(r, trial)
	}
}

// elsewhere looks for a better way where approach got stuck at z: from other places of what the hypothesis is about. A
// discharge switch so weak that the circuit hardly runs is a place from which no step leads out.
func (s *system) elsewhere(z []float64) {
	r := make([]float64, s.times())
	if !s.residual(z, r) || worst(r) < s.tol {
		return
	}
	best := worst(r)
	for i := len(s.vars) - s.own; i < len(s.vars); i++ {
		for _, u := range []float64{0.25, 0.75, 0.05, 0.95} {
			other := append([]float64(nil), s.centre...)
			other[i] = s.vars[i].Density.Quantile(u)
			s.approach(other)
			if !s.residual(other, r) {
				continue
			}
			if w := worst(r); w < best {
				best = w
				copy(z, other)
			}
			if best < s.tol {
				return
			}
		}
	}
}

// scaled writes the derivatives of the residual r at z by each unknown, times its spread; nought where the circuit does
// not run beside z.
func (s *system) scaled(z, r []float64, cols [][]float64) {
	for j := range cols {
		if !s.column(z, r, j, cols[j]) {
			clear(cols[j])
		}
		for i := range cols[j] {
			cols[j][i] *= s.spread[j]
		}
	}
}

// descend takes the step, in spreads, or as much of it as makes the largest residual smaller than now, and leaves the new
// residual in trial; false where no part of it does.
func (s *system) descend(z, step []float64, now float64, trial []float64) bool {
	from := append([]float64(nil), z...)
	for f := 1.0; f > 1e-3; f /= 2 {
		for j := range z {
			z[j] = min(max(from[j]+f*step[j]*s.spread[j], s.from[j]), s.to[j])
		}
		if slices.Equal(z, from) { // every unknown stands at the end it is driven to
			return false
		}
		if s.residual(z, trial) && worst(trial) < 0.999*now {
			return true
		}
	}
	copy(z, from)
	return false
}
