package posterior

import (
	"math"
	"runtime"
	"slices"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit/circuit"
	"offbeat/fit/workers"
)

// MostEquations bounds the number of equations of one problem: two a capture and one a fact.
const MostEquations = 16

// system is one hypothesis written as equations: the logarithm of each modelled time plus its noise equals
// the measured one. Its unknowns are the variables and after them one standard normal a time, the noise.
type system struct {
	problem   *Problem
	facts     []Fact // the problem's, as they are of the circuit
	circuit   *circuit.Circuit
	base      circuit.Values
	vars      []Variable
	own       int       // how many of the last of them are the hypothesis's own
	from      []float64 // support of each unknown
	to        []float64
	step      []float64 // of the finite differences
	centre    []float64 // median of each unknown's prior
	spread    []float64
	noise     [][]float64 // lower factor of the equations' covariance
	errors    []Density   // of the equations' standardised errors
	data      []float64
	extra     []float64
	tie       func(v *circuit.Values)
	see       func(v *circuit.Values, high, low float64) (float64, float64, bool)
	trial     circuit.Values // scratch of residual
	changed   circuit.Values
	tol       float64     // largest residual of a solved point
	begin     []float64   // a point where the circuit runs, as near to a solution as the supports allow
	met       bool        // begin is a solution
	pivots    []int       // the eliminated unknowns, as many as times
	free      []int       // the others
	tilts     []tilt      // one a free unknown
	reference factors     // of the Jacobian at begin
	beside    []float64   // the derivatives of the residual there, those by one unknown after the other
	runs      []bool      // whether the circuit runs beside begin, for those
	lean      [][]float64 // by how much each pivot of the solution there moves with each free unknown [free][pivot]
	offset    []float64   // from begin to the solution
	logMass   float64     // of the tilted priors
	held      []float64   // the variables that trial holds; NaN: another
	stale     bool        // trial holds nothing
	cloud     cloud
	near      *nearby     // what the points solved so far say of others; nil: too little
	cell      [][]float64 // half-widths of the cell of boards of which the data are the middle; nil: those of one board
	evals     int
}

func (s *system) times() int { return len(s.data) }

// newSystem collects a hypothesis's unknowns: its parts, the nuisances that it leaves alone, its own, the noise.
func newSystem(p *Problem, h *Hypothesis) *system {
	s := &system{problem: p, circuit: p.Circuit, base: p.Base, extra: slices.Clone(p.Extra), tie: h.Tie, see: h.See}
	s.facts = p.Facts
	if h.Circuit != nil {
		s.circuit, s.facts = h.Circuit, slices.Clone(p.Facts)
		for i, f := range p.Facts {
			if f.On != nil {
				s.facts[i].Of = f.On(h.Circuit)
			}
		}
	}
	nuisance := p.Nuisance
	if h.Base != nil {
		s.base, nuisance = *h.Base, h.Nuisance
	}
	s.vars = make([]Variable, 0, len(h.Prior)+len(nuisance)+len(h.Override))
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
	for _, v := range nuisance {
		if !own[v.Slot] {
			s.vars = append(s.vars, v)
		}
	}
	s.vars, s.own = append(s.vars, h.Override...), len(h.Override)
	s.collectData()
	n := len(s.vars) + len(s.errors)
	room := make([]float64, 5*n)
	for i, x := range []*[]float64{&s.from, &s.to, &s.centre, &s.spread, &s.step} {
		*x = room[i*n : i*n : (i+1)*n]
	}
	for _, v := range s.vars {
		s.unknown(v.Density)
	}
	for _, d := range s.errors {
		s.unknown(d)
	}
	s.held = make([]float64, len(s.vars))
	s.spoil()
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
	s.tol = max(min(1e-2*s.tol, 1e-6), 1e-11) // the determinant is that of the point before the last step
}

// residual writes model plus noise minus data at the point z; false where the circuit does not run.
func (s *system) residual(z, r []float64) bool {
	s.evals++
	v := &s.trial
	s.fill(z)
	k, facts := 0, s.facts
	first := len(r) - len(facts)
	for i := range s.problem.Data {
		d := &s.problem.Data[i]
		w := v
		if d.Adjust != nil {
			w = &s.changed
			*w = *v
			d.Adjust(w, s.extra)
		}
		c := s.circuit
		if d.Settled {
			c = s.problem.Circuit
		}
		high, low, ok := c.Times(w)
		if ok && s.see != nil && !d.Settled {
			high, low, ok = s.see(w, high, low)
		}
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
	if len(facts) > 0 {
		s.present()
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

// fill writes the variables at z into trial and the extra quantities: those that differ from what they hold, which is
// mostly one.
func (s *system) fill(z []float64) {
	if s.stale {
		s.trial, s.stale = s.base, false
	}
	for i, held := range s.held {
		x := z[i]
		if x == held {
			continue
		}
		s.held[i] = x
		if s.vars[i].Log {
			x = math.Exp(x)
		}
		s.put(&s.trial, s.vars[i].Slot, x)
	}
	if s.tie != nil {
		s.tie(&s.trial)
		s.spoil()
	}
}

// present turns trial into the board as it is now.
func (s *system) present() {
	if s.problem.Present != nil {
		s.problem.Present(&s.trial, s.extra)
		s.spoil()
	}
}

// spoil has the next fill write everything anew.
func (s *system) spoil() {
	for i := range s.held {
		s.held[i] = math.NaN()
	}
	s.stale = true
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

// density is the prior of unknown j.
func (s *system) density(j int) Density {
	if j < len(s.vars) {
		return s.vars[j].Density
	}
	return s.errors[j-len(s.vars)]
}

// cloud is what one run over a box found: its lattice points, one replicate after the other.
type cloud struct {
	box     box
	seed    uint64
	n       int       // points a replicate
	met     int       // how many of them have weight
	log     []float64 // -Inf where no solution is
	top     float64   // largest of log
	weights []float64 // exp(log - top)
	z       []float64 // len(log) times the number of unknowns
	logDet  []float64 // of the Jacobian at each point, NaN where none was solved; nil: it is not kept
	inverse []float64 // of the Jacobian, likewise

	lattices [replicates]*lattice // of place
	placed   []float64
}

// factors are those of a Jacobian of the residual by the pivots (Gaussian elimination with row exchange).
type factors struct {
	lu     [MostEquations][MostEquations]float64
	row    [MostEquations]int // the row exchange
	logDet float64
	usable bool
}

// each calls f for 0 … n-1 on all cores.
func each(n int, f func(i int)) {
	workers.Each(n, runtime.GOMAXPROCS(0), func(_, i int) { f(i) })
}

// nearby is what the points solved so far say of others: where the solution for given free unknowns lies, and the Jacobian
// there, each fitted by a plane to what was found.
type nearby struct {
	planes mat.Dense // a column for each pivot, the logarithm of the determinant, and the elements of the inverse
}

// box is the part of the free unknowns' unit cube that a run covers.
type box struct{ from, to []float64 }
