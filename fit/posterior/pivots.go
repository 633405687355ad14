package posterior

import (
	"cmp"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// start finds a point at which the circuit runs: the medians, or the medians with one unknown moved
// through its prior.
func (s *system) start(z []float64) bool {
	r := make([]float64, s.times())
	copy(z, s.centre)
	if s.residual(z, r) {
		return true
	}
	for i := len(s.vars) - 1; i >= 0; i-- {
		for _, u := range []float64{0.25, 0.75, 0.1, 0.9, 0.03, 0.97, 0.01, 0.99, 0.002, 0.998} {
			z[i] = s.vars[i].Density.Quantile(u)
			if s.residual(z, r) {
				return true
			}
		}
		z[i] = s.centre[i]
	}
	return false
}

// choosePivots picks the unknowns to eliminate and how the others are sampled: first as things look where the circuit
// runs nearest the priors' medians, then as they look at the solution from there, or as near to one as the supports
// let it come. The times are curved enough that medians far from it would draw the samples astray. The last such
// point is where every later solution starts.
func (s *system) choosePivots() bool {
	m, n := s.times(), len(s.centre)
	z, r := make([]float64, n), make([]float64, m)
	if !s.start(z) || !s.residual(z, r) || !s.pivotsAt(z, r) {
		return false
	}
	s.begin = z
	for range 3 {
		before := slices.Clone(s.pivots)
		next := slices.Clone(s.begin)
		solved := s.solve(next, newSolver(m, 0))
		if !solved {
			copy(next, s.begin)
			s.approach(next)
			s.elsewhere(next)
		}
		for j := range next {
			next[j] = min(max(next[j], s.from[j]), s.to[j])
		}
		kept := *s
		if !s.residual(next, r) || !s.pivotsAt(next, r) {
			s.pivots, s.free, s.tilts, s.logMass = kept.pivots, kept.free, kept.tilts, kept.logMass
			break
		}
		s.begin, s.met = next, worst(r) < s.tol
		if solved && (s.met || slices.Equal(before, s.pivots)) {
			break
		}
	}
	s.refer()
	return true
}

// pivotsAt picks as many unknowns as there are times, each the one whose prior moves the times most in a direction that
// those before it do not reach (column-pivoted Gram-Schmidt on the scaled sensitivities at the point z of residual r).
func (s *system) pivotsAt(z, r []float64) bool {
	m, n := s.times(), len(s.centre)
	cols, beside, runs := make([][]float64, n), make([]float64, n*m), make([]bool, n)
	atCentre := append([]float64(nil), r...) // the residual of the linearised times at the priors' medians
	for j := range cols {
		cols[j] = make([]float64, m)
		runs[j] = s.column(z, r, j, cols[j])
		copy(beside[j*m:], cols[j])
		for i := range cols[j] {
			atCentre[i] += cols[j][i] * (s.centre[j] - z[j])
			cols[j][i] *= s.spread[j]
		}
	}
	rates, pull := tiltRates(cols, atCentre)
	taken := make([]bool, n)
	s.pivots, s.free, s.tilts, s.logMass = nil, nil, nil, 0
	for range m {
		best, most := -1, 0.0
		for j, c := range cols {
			if q := floats.Dot(c, c); !taken[j] && q > most {
				best, most = j, q
			}
		}
		if best < 0 {
			return false
		}
		taken[best] = true
		s.pivots = append(s.pivots, best)
		b := append([]float64(nil), cols[best]...)
		for _, c := range cols {
			f := floats.Dot(c, b) / most
			for i := range c {
				c[i] -= f * b[i]
			}
		}
	}
	for j := range cols {
		if !taken[j] {
			s.free = append(s.free, j)
		}
	}
	// The first coordinates of a lattice are its best: they go to those that the times tie most to the others.
	slices.SortStableFunc(s.free, func(a, b int) int { return cmp.Compare(pull[b], pull[a]) })
	for _, j := range s.free {
		t, mass := tiltTo(s.density(j), rates[j]/s.spread[j], s.centre[j], s.spread[j])
		s.tilts = append(s.tilts, t)
		s.logMass += mass
	}
	s.beside, s.runs, s.reference.usable = beside, runs, true
	for k, p := range s.pivots {
		s.reference.usable = s.reference.usable && runs[p]
		for i, x := range beside[p*m:][:m] {
			s.reference.lu[i][k] = x
		}
	}
	if s.reference.usable {
		s.reference.decompose(m)
	}
	return true
}
