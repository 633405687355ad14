package posterior

import (
	"cmp"
	"math"
	"slices"

	"offbeat/fit/circuit"
)

// MostEquations bounds the number of equations of one problem: two a capture and one a fact.
const MostEquations = 16

// system is one hypothesis written as equations: the logarithm of each modelled time plus its noise equals
// the measured one. Its unknowns are the variables and after them one standard normal a time, the noise.
type system struct {
	problem *Problem
	base    circuit.Values
	vars    []Variable
	own     int       // how many of the last of them are the hypothesis's own
	from    []float64 // support of each unknown
	to      []float64
	step    []float64 // of the finite differences
	centre  []float64 // median of each unknown's prior
	spread  []float64
	noise   [][]float64 // lower factor of the equations' covariance
	errors  []Density   // of the equations' standardised errors
	data    []float64
	extra   []float64
	trial   circuit.Values // scratch of residual
	changed circuit.Values
	tol     float64   // largest residual of a solved point
	begin   []float64 // a point where the circuit runs, as near to a solution as the supports allow
	pivots  []int     // the eliminated unknowns, as many as times
	free    []int     // the others
	tilts   []tilt    // one a free unknown
	logMass float64   // of the tilted priors
	evals   int
}

func (s *system) times() int { return len(s.data) }

// newSystem collects a hypothesis's unknowns: its parts, the nuisances that it leaves alone, its own, the noise.
func newSystem(p *Problem, h *Hypothesis) *system {
	s := &system{problem: p, base: p.Base, extra: slices.Clone(p.Extra)}
	for i, d := range h.Prior {
		s.vars = append(s.vars, Variable{circuit.Slot(i), true, d})
	}
	own := map[circuit.Slot]bool{}
	for _, v := range h.Override {
		own[v.Slot] = true
	}
	for _, f := range h.Fixed {
		own[f.Slot] = true
		s.put(&s.base, f.Slot, f.Value)
	}
	for _, v := range p.Nuisance {
		if !own[v.Slot] {
			s.vars = append(s.vars, v)
		}
	}
	s.vars, s.own = append(s.vars, h.Override...), len(h.Override)
	s.collectData()
	for _, v := range s.vars {
		s.unknown(v.Density)
	}
	for _, d := range s.errors {
		s.unknown(d)
	}
	return s
}

// put sets a slot of the circuit or an extra quantity.
func (s *system) put(v *circuit.Values, slot circuit.Slot, x float64) {
	if k := int(slot) - len(v); k >= 0 {
		s.extra[k] = x
	} else {
		v[slot] = x
	}
}

func (s *system) unknown(d Density) {
	a, b := d.support()
	w := d.spread()
	s.from, s.to = append(s.from, a), append(s.to, b)
	s.centre, s.spread = append(s.centre, d.Quantile(0.5)), append(s.spread, w)
	s.step = append(s.step, max(1e-7*(b-a), 1e-6*w))
}

// collectData lays out the measured times and the factor of their covariance (Cholesky, 2 by 2 blocks), then the facts.
func (s *system) collectData() {
	n := len(s.problem.Facts)
	for _, d := range s.problem.Data {
		n += 2
		if d.OnePulse {
			n--
		}
	}
	s.noise = make([][]float64, n)
	for i := range s.noise {
		s.noise[i] = make([]float64, n)
		s.errors = append(s.errors, Normal(0, 1))
	}
	s.tol = math.Inf(1)
	for _, d := range s.problem.Data {
		i := len(s.data)
		sd := math.Sqrt(d.High)
		s.noise[i][i] = sd
		s.data = append(s.data, d.LnHigh)
		s.tol = min(s.tol, sd)
		if d.OnePulse {
			continue
		}
		s.noise[i+1][i] = d.Covariance / sd
		s.noise[i+1][i+1] = math.Sqrt(max(d.Low-d.Covariance*d.Covariance/d.High, 1e-6*d.Low))
		s.data = append(s.data, d.LnLow)
		s.tol = min(s.tol, s.noise[i+1][i+1])
	}
	for _, f := range s.problem.Facts {
		i := len(s.data)
		s.noise[i][i] = f.Standard
		if f.Standard == 0 {
			s.noise[i][i], s.errors[i] = f.Half, Uniform(-1, 1)
		}
		s.data = append(s.data, f.Value)
		s.tol = min(s.tol, s.noise[i][i])
	}
	s.tol = max(1e-3*s.tol, 1e-11)
}

// residual writes model plus noise minus data at the point z; false where the circuit does not run.
func (s *system) residual(z, r []float64) bool {
	s.evals++
	v := &s.trial
	s.fill(v, z)
	k, facts := 0, s.problem.Facts
	first := len(r) - len(facts)
	for i := range s.problem.Data {
		d := &s.problem.Data[i]
		w := v
		if d.Adjust != nil {
			w = &s.changed
			*w = *v
			d.Adjust(w, s.extra)
		}
		high, low, ok := s.problem.Circuit.Times(w)
		if !ok {
			return false
		}
		r[k] = math.Log(high) - s.data[k]
		k++
		if !d.OnePulse {
			r[k] = math.Log(low) - s.data[k]
			k++
		}
		for j := range facts {
			if facts[j].Under == i+1 {
				r[first+j] = facts[j].Of(w) - s.data[first+j]
			}
		}
	}
	if len(facts) > 0 && s.problem.Present != nil {
		s.problem.Present(v, s.extra)
	}
	for j := range facts {
		if facts[j].Under == 0 {
			r[first+j] = facts[j].Of(v) - s.data[first+j]
		}
	}
	e := z[len(s.vars):]
	for i := range r {
		for j := 0; j <= i; j++ {
			r[i] += s.noise[i][j] * e[j]
		}
	}
	return true
}

// fill writes the variables at z into v and the extra quantities.
func (s *system) fill(v *circuit.Values, z []float64) {
	*v = s.base
	for i := range s.vars {
		x := z[i]
		if s.vars[i].Log {
			x = math.Exp(x)
		}
		s.put(v, s.vars[i].Slot, x)
	}
}

// column writes the derivative of the residual r at z by unknown j; false where the circuit does not run.
func (s *system) column(z, r []float64, j int, out []float64) bool {
	if n := j - len(s.vars); n >= 0 {
		for i := range out {
			out[i] = s.noise[i][n]
		}
		return true
	}
	keep, h := z[j], s.step[j]
	if keep+h > s.to[j] {
		h = -h
	}
	z[j] = keep + h
	ok := s.residual(z, out)
	z[j] = keep
	for i := range out {
		out[i] = (out[i] - r[i]) / h
	}
	return ok
}

// start finds a point at which the circuit runs: the medians, or the medians with one unknown moved
// through its prior.
func (s *system) start(z []float64) bool {
	r := make([]float64, s.times())
	copy(z, s.centre)
	if s.residual(z, r) {
		return true
	}
	for i := len(s.vars) - 1; i >= 0; i-- {
		for _, u := range []float64{0.25, 0.75, 0.1, 0.9, 0.03, 0.97} {
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
		_, solved := s.solve(next, newSolver(m))
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
		s.begin = next
		if solved && slices.Equal(before, s.pivots) {
			break
		}
	}
	return true
}

// pivotsAt picks as many unknowns as there are times, each the one whose prior moves the times most in a direction that
// those before it do not reach (column-pivoted Gram-Schmidt on the scaled sensitivities at the point z of residual r).
func (s *system) pivotsAt(z, r []float64) bool {
	m, n := s.times(), len(s.centre)
	cols := make([][]float64, n)
	atCentre := append([]float64(nil), r...) // the residual of the linearised times at the priors' medians
	for j := range cols {
		cols[j] = make([]float64, m)
		s.column(z, r, j, cols[j])
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
			if q := dot(c, c); !taken[j] && q > most {
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
			f := dot(c, b) / most
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
	return true
}

// tilt is a free unknown's sampling density: its prior times exp(rate*(x-about)).
type tilt struct {
	Density
	rate, about float64
}

// tiltTo tilts a density by the rate that would move a normal of that spread to its conditional mean. A tail longer than
// a normal's would be blown up to its end by it: then by the rate at which the median lies at that mean.
func tiltTo(d Density, rate, about, spread float64) (t tilt, logMass float64) {
	at := func(rate float64) { t.rate, t.about = rate, about; t.Density, logMass = d.tilt(rate, about) }
	want := rate * spread * spread
	// beyond is how far the median lies past the wanted place.
	beyond := func() float64 { return (t.Quantile(0.5) - about - want) * math.Copysign(1, rate) }
	at(rate)
	if d.normal || beyond() <= spread/2 {
		return t, logMass
	}
	gentle, steep := 0.0, rate
	for range 20 {
		if at((gentle + steep) / 2); beyond() > 0 {
			steep = t.rate
		} else {
			gentle = t.rate
		}
	}
	at(gentle)
	return t, logMass
}

// tiltRates says how far each unknown's prior is to be tilted, in inverse spreads, so that the sampled points
// lie where the measured times draw it: were all priors normal and the circuit linear, this is the
// conditional mean J'(JJ')^-1 y for the scaled sensitivities J (columns) and the misfit y = -r.
//
// pull is each unknown's leverage, the share of its variance that the times explain: the diagonal of J'(JJ')^-1 J.
func tiltRates(cols [][]float64, r []float64) (rates, pull []float64) {
	m := len(r)
	w := newSolver(m)
	for i := range m {
		for k := range m {
			for _, c := range cols {
				w.lu[i][k] += c[i] * c[k]
			}
		}
	}
	rates, pull = make([]float64, len(cols)), make([]float64, len(cols))
	if !w.decompose(m) {
		return rates, pull
	}
	copy(w.r, r)
	w.newton()
	const most = 4 // a tilt by more would leave the prior's own bulk unseen
	for j, c := range cols {
		rates[j] = min(max(dot(c, w.dz), -most), most)
	}
	for j, c := range cols {
		for i := range c {
			w.r[i] = -c[i]
		}
		w.newton()
		pull[j] = dot(c, w.dz)
	}
	return rates, pull
}

// density is the prior of unknown j.
func (s *system) density(j int) Density {
	if j < len(s.vars) {
		return s.vars[j].Density
	}
	return s.errors[j-len(s.vars)]
}

func dot(a, b []float64) float64 {
	var t float64
	for i := range a {
		t += a[i] * b[i]
	}
	return t
}

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
