package posterior

import "math"

// solver is the scratch of solve, so that a point costs no allocation. It keeps the last Jacobian's factors:
// neighbouring points of a hypothesis are alike enough to start on them.
type solver struct {
	r, trial, dz []float64
	column       []float64
	lu           [MostEquations][MostEquations]float64
	row          [MostEquations]int // the row exchange of lu
	logDet       float64
	factored     bool
	pushed       int // steps in a row that ended at the end of a support
}

func newSolver(m int) *solver {
	return &solver{r: make([]float64, m), trial: make([]float64, m), dz: make([]float64, m), column: make([]float64, m)}
}

// solve moves the pivots of z until every residual is below tol (Newton's method on a Jacobian that is
// renewed when it converges slowly), and returns the logarithm of the Jacobian's determinant there; false
// where no point of the priors' support does it.
func (s *system) solve(z []float64, w *solver) (logDet float64, ok bool) {
	if !s.residual(z, w.r) {
		s.restart(z, s.begin)
		if !s.residual(z, w.r) {
			s.restart(z, s.centre)
			if !s.residual(z, w.r) {
				return 0, false
			}
		}
	}
	before := math.Inf(1)
	w.pushed = 0
	for range 60 {
		now := worst(w.r)
		if now < s.tol {
			if !s.factor(z, w) {
				return 0, false
			}
			return w.logDet, true
		}
		if (!w.factored || now > 0.2*before) && !s.factor(z, w) {
			return 0, false
		}
		before = now
		w.newton()
		if !s.advance(z, w) {
			return 0, false
		}
	}
	return 0, false
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

// factor computes the Jacobian of the residual by the pivots at z and factors it; false where it is singular or the circuit stops running beside z.
func (s *system) factor(z []float64, w *solver) bool {
	m := s.times()
	w.factored = false
	for k, p := range s.pivots {
		if !s.column(z, w.r, p, w.column) {
			return false
		}
		for i, x := range w.column {
			w.lu[i][k] = x
		}
	}
	w.factored = w.decompose(m)
	return w.factored
}

// decompose factors w.lu in place by Gaussian elimination with row exchange.
func (w *solver) decompose(m int) bool {
	w.logDet = 0
	for k := range m {
		p := k
		for i := k + 1; i < m; i++ {
			if math.Abs(w.lu[i][k]) > math.Abs(w.lu[p][k]) {
				p = i
			}
		}
		if w.lu[p][k] == 0 {
			return false
		}
		w.row[k] = p
		w.lu[p], w.lu[k] = w.lu[k], w.lu[p]
		w.logDet += math.Log(math.Abs(w.lu[k][k]))
		for i := k + 1; i < m; i++ {
			w.lu[i][k] /= w.lu[k][k]
			for j := k + 1; j < m; j++ {
				w.lu[i][j] -= w.lu[i][k] * w.lu[k][j]
			}
		}
	}
	return true
}

// newton solves for the step w.dz that the factored Jacobian gives for the residual w.r.
func (w *solver) newton() {
	m := len(w.r)
	for i, x := range w.r {
		w.dz[i] = -x
	}
	for k := range m {
		w.dz[k], w.dz[w.row[k]] = w.dz[w.row[k]], w.dz[k]
	}
	for k := range m {
		for i := k + 1; i < m; i++ {
			w.dz[i] -= w.lu[i][k] * w.dz[k]
		}
	}
	for i := m - 1; i >= 0; i-- {
		for j := i + 1; j < m; j++ {
			w.dz[i] -= w.lu[i][j] * w.dz[j]
		}
		w.dz[i] /= w.lu[i][i]
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
