package posterior

import "math"

// reachSpreads bounds a normal's reach here: beyond six standard deviations lies 1e-9 of it. Other priors reach to
// the ends of their supports: the tail of a shifted part is long.
const reachSpreads = 6

// reaches says whether the hypothesis can meet the measured times at all: each time, and each pair's ratio,
// must lie within what the ends of all priors' supports can make of it. Within a tolerance the times are monotonic in
// every unknown, so the ends bound them, and nearly so the ratios. A shifted part reaches farther, to where a half-cycle
// is as short as the comparator's delay and the overshoot turns the other one: then nothing is ruled out, nor where an
// end does not run.
func (s *system) reaches() bool {
	if s.see != nil || !s.narrow() { // what is shown may turn
		return true
	}
	m, n := s.times(), len(s.centre)
	z, r := make([]float64, n), make([]float64, m)
	if !s.start(z) || !s.residual(z, r) {
		return true
	}
	slope := make([][]float64, n)
	for j := range slope {
		slope[j] = make([]float64, m)
		if !s.column(z, r, j, slope[j]) {
			return true
		}
	}
	for i := range m {
		if s.mixed(i) {
			continue
		}
		if !s.spans(func(v []float64) float64 { return v[i] }, slope, 0) {
			return false
		}
		// A ratio may turn within a range as wide as a shifted part's, and within a tolerance a little.
		for k := range i {
			if !s.mixed(k) && !s.spans(func(v []float64) float64 { return v[i] - v[k] }, slope, 0.02) {
				return false
			}
		}
	}
	return true
}

// mixed says whether equation i is a fact of a capture's own: those are combinations of what the capacitor's waveform
// shows, which need not be monotonic.
func (s *system) mixed(i int) bool {
	k := i - (s.times() - len(s.problem.Facts))
	return k >= 0 && s.problem.Facts[k].Under > 0
}

// narrow says whether every part stays within a factor of about three, and moves by no more where a hypothesis is of that.
func (s *system) narrow() bool {
	for j := range s.vars {
		part := int(s.vars[j].Slot) < len(s.circuit.Parts) || j >= len(s.vars)-s.own && s.vars[j].Slot >= Extra(0)
		if part && s.to[j]-s.from[j] > 1 {
			return false
		}
	}
	return true
}

// spans says whether a linear functional of the residuals takes both signs, or comes as near to nought as slack, or may,
// over the supports, for one of the boards that the data stand for.
func (s *system) spans(of func([]float64) float64, slope [][]float64, slack float64) bool {
	if s.cell != nil {
		along := make([]float64, len(s.cell))
		for k := range along {
			for i, axis := range s.cell {
				along[i] = axis[k]
			}
			slack += math.Abs(of(along))
		}
	}
	high, ok := s.extreme(of, slope, 1)
	if ok && high < -slack {
		return false
	}
	low, ok := s.extreme(of, slope, -1)
	return !ok || low <= slack
}

// extreme is the functional with every unknown at the end of its support that drives it to the side.
func (s *system) extreme(of func([]float64) float64, slope [][]float64, side float64) (float64, bool) {
	z, r := make([]float64, len(s.centre)), make([]float64, s.times())
	for j := range z {
		switch g := of(slope[j]) * side; {
		case math.Abs(g)*s.spread[j] < 1e-12:
			z[j] = s.centre[j]
		case g > 0:
			z[j] = s.to[j]
			if s.density(j).normal {
				z[j] = s.centre[j] + reachSpreads*s.spread[j]
			}
		default:
			z[j] = s.from[j]
			if s.density(j).normal {
				z[j] = s.centre[j] - reachSpreads*s.spread[j]
			}
		}
	}
	ok := s.residual(z, r)
	return of(r), ok
}
