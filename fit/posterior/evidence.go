package posterior

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/fit/circuit"
)

// Sizes of the lattices.
const (
	scoutPoints  = 8    // a replicate, first look
	pilotPoints  = 32   // a replicate, second look
	searchPoints = 2048 // a replicate, when no hypothesis was found possible at all
	minEffective = 24   // effective sample size below which the box is narrowed
)

// tails widens the scatter of so few replicates: three of it leave out 2 % of Student's distribution of three degrees of freedom.
const tails = 1.51

// estimate is the evidence of one hypothesis and the points behind it.
type estimate struct {
	logEvidence float64 // -Inf where it cannot be
	relative    float64 // numerical standard error of the evidence over it
	effective   float64
	points      int
	weights     []float64                                       // of the points
	total       float64                                         // their sum
	at          func(k int, v *circuit.Values, extra []float64) // writes the board at a point, and its extra quantities
}

func unitBox(n int) box {
	b := box{make([]float64, n), make([]float64, n)}
	for i := range b.to {
		b.to[i] = 1
	}
	return b
}

// point writes the i-th point of a lattice over the box into u.
func (b box) point(l *lattice, i int, u []float64) {
	l.point(i, u)
	for k := range u {
		u[k] = b.from[k] + u[k]*(b.to[k]-b.from[k])
	}
}

func (b box) volume() float64 {
	v := 1.0
	for i := range b.from {
		v *= b.to[i] - b.from[i]
	}
	return v
}

// apart is the size of a replicate from which the replicates are spread over the cores: a hypothesis that is computed
// again on many points has them to itself.
const apart = 128

// run evaluates n lattice points a replicate over the box, those left out that the run before over the same box had.
// Points share nothing, so that their order leaves no trace. The cloud is overwritten by the next run.
func (s *system) run(b box, n int) *cloud {
	if s.near = nil; n >= apart {
		s.near = s.learn()
	}
	had := s.room(b, n)
	c := &s.cloud
	if n < apart {
		for rep := range replicates {
			s.replicate(c, rep, had)
		}
	} else {
		var evals [replicates]int
		each(replicates, func(rep int) {
			own := s.clone()
			own.replicate(c, rep, had)
			evals[rep] = own.evals
		})
		for _, n := range evals {
			s.evals += n
		}
	}
	c.weigh()
	return c
}

// weigh turns the logarithms into weights against the heaviest point, and counts those that have any.
func (c *cloud) weigh() {
	c.top = slices.Max(c.log)
	for i, l := range c.log {
		c.weights[i] = 0
		if !math.IsInf(l, -1) {
			c.weights[i] = math.Exp(l - c.top)
			c.met++
		}
	}
}

// room makes the system's cloud one of n points a replicate over the box, and returns how many of them are there already,
// evenly spread: those of a coarser lattice over the same box are points of the finer one.
func (s *system) room(b box, n int) (had int) {
	old := s.cloud
	c, all := &s.cloud, len(s.centre)
	*c = cloud{box: b, n: n, seed: s.problem.Seed}
	if old.n <= n && slices.Equal(old.box.from, b.from) && slices.Equal(old.box.to, b.to) {
		had = old.n
	}
	if had == n {
		*c = old
		c.met = 0
		return had
	}
	points := replicates * n
	room := func(old []float64, n int) []float64 {
		if had == 0 && cap(old) >= n { // nobody looks at it any more
			return old[:n]
		}
		return make([]float64, n)
	}
	c.log, c.weights = room(old.log, points), room(old.weights, points)
	c.z = room(old.z, points*all)
	m := s.times()
	if m*m*points <= mostKept && (had == 0 || old.logDet != nil) {
		c.logDet, c.inverse = room(old.logDet, points), room(old.inverse, points*m*m)
	}
	if had > 0 {
		for from := range old.log {
			to := from * (n / had)
			c.log[to] = old.log[from]
			copy(c.z[to*all:][:all], old.z[from*all:])
			if c.logDet != nil {
				c.logDet[to] = old.logDet[from]
				copy(c.inverse[to*m*m:][:m*m], old.inverse[from*m*m:])
			}
		}
	}
	return had
}

// clone is the same system with scratch of its own, so that two can be solved at once.
func (s *system) clone() *system {
	t := *s
	t.extra, t.evals = slices.Clone(s.extra), 0
	t.held = slices.Clone(s.held)
	return &t
}

// replicate evaluates the points of one shifted lattice, but for the even share of them that it had, and puts them into their
// part of the cloud.
func (s *system) replicate(c *cloud, rep, had int) {
	z, u := make([]float64, len(s.begin)), make([]float64, len(s.free))
	w := newSolver(s.times(), len(s.free))
	points := newLattice(len(u), c.n, rep, c.seed)
	for i := range c.n {
		if s.problem.Ended() != nil {
			return
		}
		if had > 0 && i%(c.n/had) == 0 {
			continue
		}
		k := rep*c.n + i
		c.box.point(points, i, u)
		for k, j := range s.free {
			z[j] = s.tilts[k].Quantile(u[k])
		}
		c.log[k] = s.seek(z, w)
		copy(c.z[k*len(z):], z)
		if c.logDet != nil {
			c.keep(k, w)
		}
	}
}

// keep notes the Jacobian with which point k was solved.
func (c *cloud) keep(k int, w *solver) {
	c.logDet[k] = math.NaN()
	if w.solved {
		c.logDet[k] = w.logDet
		copy(c.inverse[k*len(w.inverse):], w.inverse)
	}
}

// seek solves for the pivots of z from where what is known tells, and returns the logarithm of the point's weight.
func (s *system) seek(z []float64, w *solver) float64 {
	if w.solved = s.near != nil && s.near.solve(s, z, w); w.solved {
		return s.logWeight(z, w.logDet)
	}
	if !s.guess(z) {
		return math.Inf(-1)
	}
	return s.weight(z, w)
}

// weight solves for the pivots of z and returns the logarithm of the point's weight, -Inf where there is no solution.
func (s *system) weight(z []float64, w *solver) float64 {
	if w.solved = s.solve(z, w); !w.solved {
		return math.Inf(-1)
	}
	w.invert()
	return s.logWeight(z, w.logDet)
}

// logWeight is the logarithm of the weight of a solved point.
func (s *system) logWeight(z []float64, logDet float64) float64 {
	lw := s.still(z) - logDet
	for k, j := range s.free {
		lw -= s.tilts[k].rate * (z[j] - s.tilts[k].about)
	}
	for _, p := range s.pivots {
		lw += s.density(p).LogAt(z[p])
	}
	if math.IsNaN(lw) {
		return math.Inf(-1)
	}
	return lw
}

// at writes the board at the point z, as it is now, and its extra quantities.
func (s *system) at(z []float64, v *circuit.Values, extra []float64) {
	s.fill(z)
	s.present()
	*v = s.trial
	copy(extra, s.extra)
}

// summarise turns a cloud into an estimate.
func (s *system) summarise(c *cloud) estimate {
	e := estimate{logEvidence: math.Inf(-1), points: replicates * c.n}
	if c.met == 0 {
		return e
	}
	e.weights = c.weights
	e.tally()
	n := len(s.centre)
	e.at = func(k int, v *circuit.Values, extra []float64) { s.at(c.z[k*n:][:n], v, extra) }
	e.logEvidence = c.top + math.Log(e.total/float64(e.points)) + math.Log(c.box.volume()) + s.logMass
	return e
}

// tally sums the weights up, all and by replicates, whose scatter tells the numerical error.
func (e *estimate) tally() {
	var squares float64
	var each [replicates]float64
	for i, x := range e.weights {
		squares += x * x
		each[i*replicates/len(e.weights)] += x
	}
	e.total = floats.Sum(each[:])
	e.effective = e.total * e.total / squares
	mean, sd := stat.MeanStdDev(each[:], nil)
	e.relative = max(tails*stat.StdErr(sd, replicates)/mean, 1/e.effective)
}

// place is where point i lies in the unit cube of so many dimensions, until the next is asked for.
func (c *cloud) place(i, dims int) []float64 {
	l := &c.lattices[i/c.n]
	if *l == nil {
		*l, c.placed = newLattice(dims, c.n, i/c.n, c.seed), make([]float64, dims)
	}
	c.box.point(*l, i%c.n, c.placed)
	return c.placed
}

// narrow is the smallest box around the points that carry weight, with a margin for what lies between
// lattice points.
func (c *cloud) narrow(dims int) box {
	b := box{make([]float64, dims), make([]float64, dims)}
	hits := 0
	for k := range dims {
		b.from[k], b.to[k] = math.Inf(1), math.Inf(-1)
	}
	for i, l := range c.log {
		if l > c.top-16 { // lighter points add less than 1e-7 each
			hits++
			for k, x := range c.place(i, dims) {
				b.from[k], b.to[k] = min(b.from[k], x), max(b.to[k], x)
			}
		}
	}
	for k := range dims {
		lo, hi, width := b.from[k], b.to[k], c.box.to[k]-c.box.from[k]
		margin := 3*(hi-lo)/float64(hits) + 0.5*width/math.Sqrt(float64(hits)*float64(c.n))
		b.from[k], b.to[k] = max(lo-margin, c.box.from[k]), min(hi+margin, c.box.to[k])
	}
	return b
}

// look takes a first look at the hypothesis's evidence, over all of its free unknowns' cube.
func (s *system) look(points int) estimate {
	if !s.possible() || !s.reaches() || !s.choosePivots() {
		return estimate{logEvidence: math.Inf(-1)}
	}
	return s.summarise(s.run(unitBox(len(s.free)), points))
}

// focus narrows the box around what the first look found until enough of the points count, which gives the evidence to
// some percent.
func (s *system) focus() estimate {
	c := &s.cloud
	for range 4 {
		e := s.summarise(c)
		if c.met == 0 || e.effective > minEffective {
			return e
		}
		n := c.narrow(len(s.free))
		if n.volume() > 0.7*c.box.volume() {
			return e
		}
		c = s.runWidening(n, pilotPoints)
	}
	return s.summarise(c)
}

// fine computes the evidence with at least n points a replicate over the box that it has come to.
func (s *system) fine(n int) estimate {
	return s.summarise(s.runWidening(s.cloud.box, max(n, s.cloud.n)))
}

// runWidening runs over a box. Where weight lies against a side of it that is not the end of the prior, the points
// that drew the box were too few to see the weight end: the box is widened and run again.
func (s *system) runWidening(b box, n int) *cloud {
	c := s.run(b, n)
	for range 6 {
		w := c.widened()
		if w.volume() == c.box.volume() {
			break
		}
		c = s.run(w, n)
	}
	return c
}

// widened is the cloud's box with each inner side moved outwards by half a width if more than a thousandth of
// the weight lies in the outer tenth beside it.
func (c *cloud) widened() box {
	if c.met == 0 {
		return c.box
	}
	dims := len(c.box.from)
	low, high := make([]float64, dims), make([]float64, dims)
	var sum float64
	for i, w := range c.weights {
		if w == 0 {
			continue
		}
		sum += w
		for k, x := range c.place(i, dims) {
			at := (x - c.box.from[k]) / (c.box.to[k] - c.box.from[k])
			switch {
			case at < 0.1:
				low[k] += w
			case at > 0.9:
				high[k] += w
			}
		}
	}
	const share = 1e-3
	b := box{append([]float64(nil), c.box.from...), append([]float64(nil), c.box.to...)}
	for k := range dims {
		half := (b.to[k] - b.from[k]) / 2
		if low[k] > share*sum {
			b.from[k] = max(b.from[k]-half, 0)
		}
		if high[k] > share*sum {
			b.to[k] = min(b.to[k]+half, 1)
		}
	}
	return b
}

// possible says whether every prior has mass left after the readings.
func (s *system) possible() bool {
	for _, v := range s.vars {
		if v.Density.Mass() <= 0 {
			return false
		}
	}
	return !slices.ContainsFunc(s.facts, func(f Fact) bool { return f.Of == nil })
}
