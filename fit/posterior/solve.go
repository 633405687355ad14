package posterior

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// solver is the scratch of solve, so that a point costs no allocation.
type solver struct {
	r, trial, dz []float64
	column       []float64
	own          factors
	pushed       int       // steps in a row that ended at the end of a support
	solved       bool      // the last point was
	logDet       float64   // of the Jacobian there
	inverse      []float64 // of it
	place, told  []float64 // of what is known nearby
}

func newSolver(m, free int) *solver {
	return &solver{r: make([]float64, m), trial: make([]float64, m), dz: make([]float64, m), column: make([]float64, m),
		inverse: make([]float64, m*m), place: make([]float64, 1+free), told: make([]float64, m+1+m*m)}
}

// invert notes the Jacobian of a point that was solved by one of its own.
func (w *solver) invert() {
	m := len(w.r)
	w.logDet = w.own.logDet
	for i := range m {
		clear(w.trial)
		w.trial[i] = -1
		w.own.newton(w.trial, w.dz)
		for row, x := range w.dz {
			w.inverse[row*m+i] = x
		}
	}
}

// solve moves the pivots of z until every residual is below tol, the Jacobian there being w's own; false where no
// point of the priors' support does it.
//
// It is Newton's method. The first steps take the Jacobian of the point where the system's solutions begin; a new one is
// computed where they converge slowly, and once so near the solution that the step with it lands there: over a spread of
// the priors the Jacobian changes by as much as itself, so that a step of the part q of a spread leaves q times the residual.
func (s *system) solve(z []float64, w *solver) bool {
	if !s.residual(z, w.r) {
		s.restart(z, s.begin)
		if !s.residual(z, w.r) {
			s.restart(z, s.centre)
			if !s.residual(z, w.r) {
				return false
			}
		}
	}
	jacobian, here, before := &s.reference, false, math.Inf(1)
	renew := func() bool {
		jacobian, here = &w.own, true
		return s.factor(z, w.r, &w.own, w.column)
	}
	w.pushed = 0
	for range 60 {
		now := worst(w.r)
		if (!jacobian.usable || now > 0.2*before) && !renew() {
			// On the flat side of a kink, such as a breakdown that is not reached, only the other side's shows the way.
			if jacobian, here = &s.reference, false; !jacobian.usable {
				return false
			}
		}
		jacobian.newton(w.r, w.dz)
		q := s.ofSpread(w.dz)
		if s.beyond(z, w.dz) > q+s.margin() {
			return false
		}
		if now*q < s.tol && !here {
			if !renew() {
				return false
			}
			jacobian.newton(w.r, w.dz)
			q = s.ofSpread(w.dz)
		}
		if now*q < s.tol {
			for k, p := range s.pivots {
				z[p] += w.dz[k]
			}
			return true
		}
		before = now
		if !s.advance(z, w) {
			return false
		}
		here = false
	}
	return false
}

// ofSpread is the largest part of its prior's spread by which a step moves a pivot.
func (s *system) ofSpread(step []float64) float64 {
	var q float64
	for k, p := range s.pivots {
		q = max(q, math.Abs(step[k])/s.spread[p])
	}
	return q
}

// margin is how many spreads beyond its support a solution of a pivot still counts: for one of the boards that a cell stands for it may
// lie within.
func (s *system) margin() float64 {
	if s.cell != nil {
		return 0.5
	}
	return 0
}

// beyond is by how much of its prior's spread a step would take a pivot out of its support.
func (s *system) beyond(z, step []float64) float64 {
	var out float64
	for k, p := range s.pivots {
		x := z[p] + step[k]
		out = max(out, (s.from[p]-x)/s.spread[p], (x-s.to[p])/s.spread[p])
	}
	return out
}

// refer takes the point where solutions begin as the one that the others are told from, by the sensitivities there.
func (s *system) refer() {
	m := s.times()
	r := make([]float64, m)
	s.lean, s.offset = make([][]float64, len(s.free)), make([]float64, m)
	for f := range s.lean {
		s.lean[f] = make([]float64, m)
	}
	if s.reference.usable && s.residual(s.begin, r) {
		s.reference.newton(r, s.offset)
		for f, j := range s.free {
			if s.runs[j] {
				s.reference.newton(s.beside[j*m:][:m], s.lean[f])
			}
		}
	}
}

// astray is how many spreads beyond its support a pivot lies to first order where no solution is looked for: of the weight of all
// points, those that lie so far out hold less than 1e-4.
const astray = 0.75

// guess puts the pivots where the solution for the free unknowns of z lies to first order; false where that is no solution.
func (s *system) guess(z []float64) bool {
	near := true
	for k, p := range s.pivots {
		x := s.begin[p] + s.offset[k]
		for f, j := range s.free {
			x += s.lean[f][k] * (z[j] - s.begin[j])
		}
		out := (astray + s.margin()) * s.spread[p]
		near = near && x > s.from[p]-out && x < s.to[p]+out
		z[p] = x
	}
	return near
}

// restart puts the pivots back to where they are at the given point.
func (s *system) restart(z, at []float64) {
	for _, p := range s.pivots {
		z[p] = at[p]
	}
}

func worst(r []float64) float64 {
	var w float64
	for _, x := range r {
		w = max(w, math.Abs(x))
	}
	return w
}

// factor computes the Jacobian of the residual r by the pivots at z and factors it; false where it is singular or the
// circuit stops running beside z.
func (s *system) factor(z, r []float64, f *factors, column []float64) bool {
	f.usable = false
	for k, p := range s.pivots {
		if !s.column(z, r, p, column) {
			return false
		}
		for i, x := range column {
			f.lu[i][k] = x
		}
	}
	return f.decompose(len(r))
}

// decompose factors the m by m matrix in lu in place.
func (f *factors) decompose(m int) bool {
	f.usable = false
	determinant := 1.0
	for k := range m {
		p := k
		for i := k + 1; i < m; i++ {
			if math.Abs(f.lu[i][k]) > math.Abs(f.lu[p][k]) {
				p = i
			}
		}
		if f.lu[p][k] == 0 {
			return false
		}
		f.row[k] = p
		f.lu[p], f.lu[k] = f.lu[k], f.lu[p]
		pivot := &f.lu[k]
		determinant *= pivot[k]
		for i := k + 1; i < m; i++ {
			row := &f.lu[i]
			row[k] /= pivot[k]
			for j := k + 1; j < m; j++ {
				row[j] -= row[k] * pivot[j]
			}
		}
	}
	f.usable, f.logDet = true, math.Log(math.Abs(determinant))
	return true
}

// newton writes the step that takes the linearised residual r to nought.
func (f *factors) newton(r, step []float64) {
	m := len(r)
	for i, x := range r {
		step[i] = -x
	}
	for k := range m {
		step[k], step[f.row[k]] = step[f.row[k]], step[k]
	}
	for i := range m {
		sum := step[i]
		for j, l := range f.lu[i][:i] {
			sum -= l * step[j]
		}
		step[i] = sum
	}
	for i := m - 1; i >= 0; i-- {
		row, sum := &f.lu[i], step[i]
		for j := i + 1; j < m; j++ {
			sum -= row[j] * step[j]
		}
		step[i] = sum / row[i]
	}
}

// patience is how many steps in a row may end at the end of some pivot's support before the point is given up:
// the solution lies outside.
const patience = 3

// advance takes the step w.dz as far as the supports and the circuit allow; false where the point keeps
// pressing against the ends of supports or nothing along the step runs.
func (s *system) advance(z []float64, w *solver) bool {
	pushed := false
	for k, p := range s.pivots {
		// Half a spread beyond its support an unknown may stray on the way, not farther.
		margin := 0.5 * s.spread[p]
		want := z[p] + w.dz[k]
		to := min(max(want, s.from[p]-margin), s.to[p]+margin)
		pushed = pushed || to != want
		w.dz[k] = to - z[p]
	}
	w.pushed++
	if !pushed {
		w.pushed = 0
	}
	if w.pushed >= patience {
		return false
	}
	for f, tries := 1.0, 0; tries < 30; f, tries = f/2, tries+1 {
		for k, p := range s.pivots {
			z[p] += f * w.dz[k]
		}
		if s.residual(z, w.trial) {
			copy(w.r, w.trial)
			return true
		}
		for k, p := range s.pivots {
			z[p] -= f * w.dz[k]
		}
	}
	return false
}

// tiltRates says how far each unknown's prior is to be tilted, in inverse spreads, so that the sampled points
// lie where the measured times draw it: were all priors normal and the circuit linear, this is the
// conditional mean J'(JJ')^-1 y for the scaled sensitivities J (columns) and the misfit y = -r.
//
// pull is each unknown's leverage, the share of its variance that the times explain: the diagonal of J'(JJ')^-1 J.
func tiltRates(cols [][]float64, r []float64) (rates, pull []float64) {
	m := len(r)
	var f factors
	for _, c := range cols {
		for i, x := range c {
			for k, y := range c[:i+1] {
				f.lu[i][k] += x * y
			}
		}
	}
	for i := range m {
		for k := range i {
			f.lu[k][i] = f.lu[i][k]
		}
	}
	rates, pull = make([]float64, len(cols)), make([]float64, len(cols))
	if !f.decompose(m) {
		return rates, pull
	}
	step := make([]float64, m)
	f.newton(r, step)
	const most = 4 // a tilt by more would leave the prior's own bulk unseen
	for j, c := range cols {
		rates[j] = min(max(floats.Dot(c, step), -most), most)
	}
	for j, c := range cols {
		f.newton(c, step)
		pull[j] = -floats.Dot(c, step)
	}
	return rates, pull
}
