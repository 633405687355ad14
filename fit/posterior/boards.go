package posterior

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit/circuit"
)

// Boards back-solves boards that differ by their measured times alone, as those of a lot do. The plane of the times'
// logarithms is cut into cells; the middle of each cell is solved once, as Run does it, and the boards in the cell start
// from the points solved there: most take one more evaluation of the law each. What comes out of a board hangs on its times and
// on the hypotheses, never on what boards came before. Several goroutines may use it at once.
type Boards struct {
	problem Problem
	all     []Hypothesis
	kept    []Hypothesis // of all, those alike merged
	at      []int
	middle  []float64   // times of the first hypothesis at its priors' medians
	axes    [][]float64 // half-widths of a cell, as a lower triangle
	quiet   int         // the least noise that cells differ by

	guard sync.Mutex
	cells map[place]*cell
	used  int
	spare sync.Pool // *Result: its room
}

// Sizes of the cells, in standard deviations of the first hypothesis's times.
const (
	cellHalf  = 0.35 // half the width of a cell
	cellReach = 8    // cells from the middle to the last: boards beyond are too few to share one
	mostCells = 32   // are remembered; those of a lot in tolerance are fewer
	fine      = 0.1  // of the least half-width of a cell: less noise of the times is all the same to it
)

// place is a cell: its number along each axis, and the size and correlation of the times' noise in coarse steps.
type place struct{ high, low, noiseHigh, noiseLow, correlation int }

// cell is the middle of a cell, solved.
type cell struct {
	once    sync.Once
	used    int
	contest *contest
}

// NewBoards prepares the hypotheses for boards of that problem, whose own data count for nothing. It is nil where boards
// cannot share what is solved: with more than one capture a board, or facts read of each.
func NewBoards(p *Problem, hypotheses []Hypothesis) *Boards {
	if len(p.Data) != 1 || len(p.Facts) > 0 || len(hypotheses) == 0 || hypotheses[0].Unexplained {
		return nil
	}
	b := &Boards{problem: *p, all: hypotheses, cells: map[place]*cell{}}
	b.problem.Context, b.problem.Data = nil, slices.Clone(p.Data)
	b.kept, b.at = distinct(hypotheses)
	s := newSystem(&b.problem, &hypotheses[0])
	m := s.times()
	z, r := slices.Clone(s.centre), make([]float64, m)
	if !s.possible() || !s.residual(z, r) {
		return nil
	}
	cov := mat.NewSymDense(m, nil)
	for i := range m {
		cov.SetSym(i, i, 1e-8)
		b.middle = append(b.middle, r[i]+s.data[i])
	}
	column := mat.NewVecDense(m, nil)
	for j := range s.vars {
		if !s.column(z, r, j, column.RawVector().Data) {
			return nil
		}
		cov.SymRankOne(cov, s.spread[j]*s.spread[j], column)
	}
	var root mat.Cholesky
	var lower mat.TriDense
	root.Factorize(cov)
	root.LTo(&lower)
	least := math.Inf(1)
	for i := range m {
		axis := mat.Row(nil, i, &lower)
		floats.Scale(cellHalf, axis)
		b.axes, least = append(b.axes, axis), min(least, axis[i])
	}
	b.quiet = noiseStep(math.Pow(fine*least, 2))
	return b
}

// Run is the function of that name for a board: p differs by its data from what the boards share.
func (b *Boards) Run(p *Problem) (*Result, error) {
	c := newContest(p, b.kept)
	c.brief, c.moved, c.room = true, true, func(n int) ([]Sample, []circuit.Values) {
		if r, _ := b.spare.Get().(*Result); r != nil && cap(r.Samples) >= n && cap(r.values) >= n {
			return r.Samples[:n], r.values[:n]
		}
		return make([]Sample, n, 2*n), make([]circuit.Values, n, 2*n) // the next board has a few more or less
	}
	if middle := b.near(&p.Data[0]); middle != nil {
		c.start(middle)
	}
	if len(c.share) == 0 {
		c.first()
	}
	return c.end(b.all, b.at)
}

// Done takes the samples of a result back that nobody looks at any more: another board's take their room.
func (b *Boards) Done(r *Result) {
	b.spare.Put(&Result{Samples: r.Samples, values: r.values})
	r.Samples, r.values = nil, nil
}

// near is the solved middle of the board's cell; nil where it lies too far out to share one.
func (b *Boards) near(d *Datum) *contest {
	at, ok := b.place(d)
	if !ok {
		return nil
	}
	b.guard.Lock()
	c := b.cells[at]
	if c == nil {
		c = &cell{}
		b.cells[at] = c
	}
	b.used++
	c.used = b.used
	if len(b.cells) > mostCells {
		oldest := at
		for k, o := range b.cells {
			if o.used < b.cells[oldest].used {
				oldest = k
			}
		}
		delete(b.cells, oldest)
	}
	b.guard.Unlock()
	c.once.Do(func() { c.contest = b.solve(b.datum(at)) })
	return c.contest
}

// place finds the cell of a board's times.
func (b *Boards) place(d *Datum) (at place, ok bool) {
	steps := [2]int{}
	y := []float64{d.LnHigh, d.LnLow}
	var along [2]float64
	for i, axis := range b.axes {
		x := y[i] - b.middle[i]
		for k := range i {
			x -= axis[k] * along[k]
		}
		along[i] = x / axis[i]
		steps[i] = int(math.Round(min(max(along[i]/2, -cellReach-1), cellReach+1)))
		if steps[i] < -cellReach || steps[i] > cellReach {
			return at, false
		}
	}
	at = place{high: steps[0], low: steps[1], noiseHigh: max(noiseStep(d.High), b.quiet)}
	if d.OnePulse {
		return at, true
	}
	if at.noiseLow = max(noiseStep(d.Low), b.quiet); at.noiseHigh > b.quiet || at.noiseLow > b.quiet {
		at.correlation = int(math.Round(2 * d.Covariance / math.Sqrt(d.High*d.Low)))
	}
	return at, true
}

// noiseStep numbers variances in steps of 16.
func noiseStep(variance float64) int { return int(math.Round(math.Log2(variance) / 4)) }

// datum is the middle of a cell.
func (b *Boards) datum(at place) Datum {
	y := slices.Clone(b.middle)
	for i, axis := range b.axes {
		for k := range i + 1 {
			y[i] += 2 * axis[k] * float64([...]int{at.high, at.low}[k])
		}
	}
	d := b.problem.Data[0]
	d.LnHigh, d.High = y[0], math.Exp2(4*float64(at.noiseHigh))
	if !d.OnePulse {
		d.LnLow, d.Low = y[1], math.Exp2(4*float64(at.noiseLow))
		d.Covariance = min(max(float64(at.correlation)/2, -0.99), 0.99) * math.Sqrt(d.High*d.Low)
	}
	return d
}

// solve solves the middle of a cell, and keeps of it what its boards start from.
func (b *Boards) solve(d Datum) *contest {
	p := b.problem
	p.Data = []Datum{d}
	c := newContest(&p, b.kept)
	c.cell, c.brief = b.axes, true
	c.look(pilotPoints)
	c.focus()
	c.sharpen()
	for i, s := range c.systems {
		c.estimates[i].weights = nil
		switch {
		case s == nil:
		case s.cloud.n == 0 || c.share[i] < unseen && s.cloud.met > 0:
			c.systems[i] = nil
		default:
			s.cloud.weights = nil // a board has its own
		}
	}
	return c
}

// start takes the hypotheses over from the middle of the board's cell: those that count there or here are moved to the
// board, with as many of their points as their probability needs, and the others keep the evidence that they have there.
func (c *contest) start(middle *contest) {
	had := make([]int, len(c.hypotheses)) // one point in how many was moved; 0: none
	copy(c.estimates, middle.estimates)
	copy(c.plain, middle.plain)
	c.share = middle.share
	for {
		var next []int
		for i := range had {
			s := middle.systems[i]
			brink := s != nil && s.cloud.n > 0 && s.cloud.met == 0 // points solved there might lie within the priors here
			thin := thinned
			switch {
			case c.share[i]*doubt(c.estimates[i]) > little:
				for all := c.estimates[i].effective * float64(max(had[i], 1)); thin > 1 && all/float64(thin) < needed(c.share[i]); {
					thin /= 2
				}
			case c.share[i] > unseen || c.hypotheses[i].Unexplained:
			case brink:
				thin *= thinned
			default:
				continue
			}
			if had[i] == 0 || thin < had[i] {
				had[i] = thin
				next = append(next, i)
			}
		}
		if len(next) == 0 {
			return
		}
		each(len(next), func(k int) {
			i := next[k]
			if s := middle.systems[i]; s != nil && s.movable() {
				c.systems[i] = s.moved(c.problem, had[i], c.share[i] < small)
				c.estimates[i] = c.systems[i].summarise(&c.systems[i].cloud)
			} else if c.systems[i] == nil {
				c.glance(i, pilotPoints)
			}
		})
		if c.share = probabilities(c.hypotheses, c.estimates); c.total() == 0 {
			c.share = nil
			return
		}
	}
}

// movable says whether the points of a system can be moved to another board's times: some are kept, and no solved unknown is
// the noise, which is another board's.
func (s *system) movable() bool {
	return s.cloud.n > 0 && s.reference.usable && slices.Max(s.pivots) < len(s.vars)
}

// most is how far, in spreads, the solved unknowns may move before points that found no solution in the middle of the cell
// are tried again: a solution there was looked for up to half a spread beyond the priors.
const most = 0.4

// moved is the system for the board of the problem, one in thin of its points solved anew from where they lie, or, if rough, where those
// lie to first order.
func (s *system) moved(p *Problem, thin int, rough bool) *system {
	t := s.clone()
	t.problem, t.cell, t.near = p, nil, nil
	t.data, t.errors, t.noise = nil, nil, nil
	t.collectData()
	m, dims := t.times(), len(t.free)
	w := newSolver(m, dims)
	from := make([]float64, m) // the residual of the middle's solutions here, their noise aside
	for i := range from {
		from[i] = s.data[i] - t.data[i]
	}
	t.reference.newton(from, w.dz)
	far := t.ofSpread(w.dz) > most
	t.offset = slices.Clone(s.offset)
	for k, x := range w.dz {
		t.offset[k] += x
	}
	turn := t.turned(w)

	old, c, n := &s.cloud, &t.cloud, len(t.begin)
	points := len(old.log) / thin
	*c = cloud{seed: old.seed, box: old.box, n: old.n / thin, log: make([]float64, points), weights: make([]float64, points), z: make([]float64, points*n)}
	for k := range c.log {
		of := k * thin // every so manieth point of a lattice is a lattice
		c.log[k] = math.Inf(-1)
		logDet := old.logDet[of]
		if math.IsNaN(logDet) && !far {
			continue
		}
		z := c.z[k*n:][:n]
		copy(z, old.z[of*n:])
		switch {
		case math.IsNaN(logDet):
			u := c.place(k, dims)
			for f, j := range t.free {
				z[j] = t.tilts[f].Quantile(u[f])
			}
			c.log[k] = t.seek(z, w)
		case t.carry(s, z, from, old.inverse[of*m*m:][:m*m], w, rough):
			c.log[k] = t.logWeight(z, logDet+turn)
		default:
			c.log[k] = t.weight(z, w)
		}
	}
	c.weigh()
	return t
}

// turned is by how much the logarithm of the Jacobian's determinant differs here from the middle of the cell, near where solutions
// begin.
func (s *system) turned(w *solver) float64 {
	z := slices.Clone(s.begin)
	for k, p := range s.pivots {
		z[p] += w.dz[k]
	}
	if !s.residual(z, w.r) || !s.factor(z, w.r, &w.own, w.column) {
		return 0
	}
	return w.own.logDet - s.reference.logDet
}

// carry moves a point that was solved in the middle of the cell, where it had that inverse Jacobian, to the solution here; false
// where that takes more than a few steps.
func (t *system) carry(s *system, z, from, inverse []float64, w *solver, rough bool) bool {
	m := len(from)
	e := z[len(t.vars):]
	copy(w.r, from)
	for i := range m {
		for j := 0; j <= i; j++ {
			w.r[i] += (t.noise[i][j] - s.noise[i][j]) * e[j]
		}
	}
	for tries := 0; ; tries++ {
		now := worst(w.r)
		for k := range m {
			w.dz[k] = 0
			for i, r := range w.r {
				w.dz[k] -= inverse[k*m+i] * r
			}
		}
		for k, p := range t.pivots {
			z[p] += w.dz[k]
		}
		if rough || tries > 0 && now*t.ofSpread(w.dz) < t.tol {
			return true
		}
		if tries == 4 || !t.residual(z, w.r) {
			return false
		}
	}
}
