package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"
)

// sampler draws boards of one hypothesis from a proposal and weighs each draw by (prior x likelihood) / (proposal density),
// so that the weights' mean is the hypothesis' evidence whatever the proposal is.
//
// The proposal is a mixture of three, so that no weight exceeds a few times what the best of them would give:
//
//	plain: every parameter from its first table, which is nearly the prior times its readings
//	safe:  the pivots, as many as the equations can hold, from a peak about the point where the model meets the measured times
//	       (and the control pin's reading), the other parameters being what they are; those from their first tables
//	sharp: the same, but those from tables adapted to earlier draws
//
// A likelihood a thousand times narrower than the priors is met by the last two.
type sampler struct {
	h      *hypothesis
	v      *values
	first  []table   // each parameter's density, tabulated
	tables []table   // the same with adapted masses
	pivots []int     // ascending
	spread []float64 // standard deviation of each first table
	start  []float64 // where solve begins: the mean of each first table, if a board runs there

	rng   *rand.Rand
	x     []float64 // the draw
	cells []int     // the table cell of each of x; -1: outside
}

// The mixture in eighths, and how the i-th draw chooses.
const (
	plainShare = 1. / 8
	safeShare  = 2. / 8
	sharpShare = 5. / 8
)

type component int

const (
	plain component = iota
	safe
	sharp
)

func componentOf(i int) component {
	return [8]component{plain, sharp, safe, sharp, sharp, safe, sharp, sharp}[i%8]
}

// tries is how many places solve looks at for one where the circuit runs: where only a sixtieth of a prior does, a
// few tries would leave those boards out, and nothing would tell.
const tries = 60

// newtonSteps is the most that solve takes; from the mean of a prior, three to five are usual.
const newtonSteps = 12

func newSampler(h *hypothesis, v *values, pivots []int, rng *rand.Rand) *sampler {
	s := &sampler{h: h, v: v, pivots: pivots, rng: rng,
		x: make([]float64, len(h.parameters)), cells: make([]int, len(h.parameters))}
	for i := range h.parameters {
		t, _ := tabulate(h.parameters[i].density)
		mean, sd := t.moments()
		s.tables = append(s.tables, t)
		s.start = append(s.start, mean)
		s.spread = append(s.spread, sd)
	}
	s.first = append(s.first, s.tables...)
	return s
}

// draw fills s.x from one component of the proposal and gives its weight.
func (s *sampler) draw(from component) float64 {
	tables := s.first
	if from == sharp {
		tables = s.tables
	}
	prior, first, adapted := 1., 1., 1.
	for i := range s.x {
		s.x[i], s.cells[i] = tables[i].quantile(s.rng.Float64())
		if !slices.Contains(s.pivots, i) {
			prior *= s.h.parameters[i].at(s.x[i])
			first *= s.first[i].pdf(s.cells[i])
			adapted *= s.tables[i].pdf(s.cells[i])
		}
	}
	if prior == 0 {
		return 0
	}
	var drawn [equations]float64
	for k, p := range s.pivots {
		drawn[k] = s.x[p]
	}
	centre, met := peak{}, false
	if len(s.pivots) > 0 {
		centre, met = s.solve()
	}
	if met && from != plain {
		drawn = centre.draw(s.rng, len(s.pivots))
	}
	firstPivots, adaptedPivots := 1., 1.
	for k, p := range s.pivots {
		s.x[p], s.cells[p] = drawn[k], s.first[p].cell(drawn[k])
		prior *= s.h.parameters[p].at(drawn[k])
		firstPivots *= s.first[p].pdf(s.cells[p])
		adaptedPivots *= s.tables[p].pdf(s.cells[p])
	}
	if prior == 0 {
		return 0
	}
	proposal := first * firstPivots
	if met {
		proposal = plainShare*proposal + (safeShare*first+sharpShare*adapted)*centre.density(drawn, len(s.pivots))
	} else {
		proposal = (plainShare+safeShare)*proposal + sharpShare*adapted*adaptedPivots
	}
	return prior / proposal * s.h.likelihood(s.x, s.v)
}

// peak is a density over the pivots: normals of several widths about one centre, root being the lower triangular root of the
// covariance that the equations' covariance makes to first order. The wide ones are for where the likelihood bends, and for where
// a prior ends before the centre is reached and leaves its tail only.
type peak struct {
	at   [equations]float64
	root matrix
}

// widths of the normals against that covariance, with their shares.
var widths = []struct{ width, share float64 }{{1.15, 0.85}, {3.5, 0.15}}

// draw draws n pivots.
func (c *peak) draw(rng *rand.Rand, n int) (x [equations]float64) {
	w := widths[0].width
	if rng.Float64() > widths[0].share {
		w = widths[1].width
	}
	var z [equations]float64
	for k := range n {
		z[k] = w * rng.NormFloat64()
		x[k] = c.at[k]
		for j := range k + 1 {
			x[k] += c.root[k][j] * z[j]
		}
	}
	return x
}

func (c *peak) density(x [equations]float64, n int) float64 {
	var z [equations]float64
	unit, square := 1., 0.
	for k := range n {
		d := x[k] - c.at[k]
		for j := range k {
			d -= c.root[k][j] * z[j]
		}
		z[k] = d / c.root[k][k]
		square += z[k] * z[k]
		unit /= c.root[k][k] * math.Sqrt(2*math.Pi)
	}
	sum := 0.
	for _, w := range widths {
		sum += w.share * math.Exp(-0.5*square/sq(w.width)) / math.Pow(w.width, float64(n))
	}
	return sum * unit
}

// solve finds the pivots at which the model fits the measured times, and the control pin's reading, best, by Gauss-Newton steps,
// and the peak about that point.
func (s *sampler) solve() (peak, bool) {
	n := len(s.pivots)
	r, ok := s.begin(tries)
	for range newtonSteps {
		if !ok {
			return peak{}, false
		}
		j, fine := s.jacobian(r)
		if !fine {
			return peak{}, false
		}
		information, slope := s.linearise(&j, r)
		root, fine := information.root(n)
		if !fine {
			return peak{}, false
		}
		step := root.solve(slope, n)
		before := s.misfit(r)
		var from [equations]float64
		for k, p := range s.pivots {
			from[k] = s.x[p]
		}
		ok = false
		for size := 1.; !ok && size > 1e-3; size /= 2 { // back off while the circuit doesn't run there or fits no better
			for k, p := range s.pivots {
				s.x[p] = from[k] + size*step[k]
			}
			r, ok = s.residual()
			ok = ok && s.misfit(r) < before+1e-3
		}
		// Far from done, a step changes the misfit by far more than a thousandth.
		if ok && math.Abs(s.misfit(r)-before) < 1e-3 || ok && s.misfit(r) < 1e-3 {
			c := peak{}
			for k, p := range s.pivots {
				c.at[k] = s.x[p]
			}
			c.root, fine = root.inverseProduct(n).root(n)
			return c, fine
		}
	}
	return peak{}, false
}

// begin sets the pivots where the circuit runs: at their starts, else at random.
func (s *sampler) begin(tries int) (r [equations]float64, ok bool) {
	for _, p := range s.pivots {
		s.x[p] = s.start[p]
	}
	for range tries {
		if r, ok = s.residual(); ok {
			return r, true
		}
		for _, p := range s.pivots {
			s.x[p], _ = s.first[p].quantile(s.rng.Float64())
		}
	}
	return r, false
}

// residual is measured minus model: ln high, ln low, and the control pin's voltage where that was read.
func (s *sampler) residual() (r [equations]float64, ok bool) {
	state := s.h.state(s.x)
	ln, ok := lnTimes(&state, s.v.times)
	r[0] = s.v.ln[0] - ln[0]
	if s.v.times == 2 {
		r[1] = s.v.ln[1] - ln[1]
	}
	if len(s.h.control) > 0 {
		r[2] = s.h.control[0].Value - state.n.Upper*state.n.Supply
	}
	return r, ok
}

// precision of the equations: the times' is a block of two, the control pin's reading stands alone.
func (s *sampler) precision() (p matrix) {
	p[0][0], p[1][1] = s.v.precision[0], s.v.precision[1]
	p[0][1], p[1][0] = s.v.precision[2], s.v.precision[2]
	if len(s.h.control) > 0 {
		c := s.h.control[0]
		p[2][2] = 1 / max(sq(c.Half)/3, sq(c.Standard))
	}
	return p
}

// misfit is a residual's squared length in standard deviations.
func (s *sampler) misfit(r [equations]float64) float64 {
	p, sum := s.precision(), 0.
	for i := range r {
		for k := range r {
			sum += p[i][k] * r[i] * r[k]
		}
	}
	return sum
}

// jacobian of the model by the pivots, by differences: j[i][k] is equation i by pivot k.
func (s *sampler) jacobian(r [equations]float64) (j matrix, ok bool) {
	for k, p := range s.pivots {
		x := s.x[p]
		h := 1e-4 * s.spread[p]
		s.x[p] = x + h
		next, ok := s.residual()
		if !ok {
			h = -h
			s.x[p] = x + h
			if next, ok = s.residual(); !ok {
				return j, false
			}
		}
		s.x[p] = x
		for i := range r {
			j[i][k] = (r[i] - next[i]) / h
		}
	}
	return j, true
}

// linearise gives the pivots' information (jacobian' precision jacobian) and the slope (jacobian' precision residual).
func (s *sampler) linearise(j *matrix, r [equations]float64) (information matrix, slope [equations]float64) {
	p := s.precision()
	for k := range s.pivots {
		for i := range r {
			weighted := 0.
			for l := range r {
				weighted += p[i][l] * j[l][k]
			}
			slope[k] += weighted * r[i]
			for m := range s.pivots {
				information[k][m] += weighted * j[i][m]
			}
		}
	}
	return information, slope
}
