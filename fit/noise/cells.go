package noise

import (
	"math"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
)

// foretold gives each edge's residual from what all others foretell of it, over its variance, and 1 over that variance; the last first.
func (c *chain) foretold(f *filter, do func(i int, u, d float64)) {
	perDet := 1 / (f.shh*f.sll - f.shl*f.shl)
	hh, hl, ll := f.sll*perDet, 2*f.shl*perDet, f.shh*perDet
	var ry, rh, rl, n float64
	for i := len(c.y) - 1; i >= 0; i-- {
		inv, g := f.inv[i], f.gain[i]
		keep, y, h, l := 1-g, f.vy[i]*inv, f.vh[i]*inv, f.vl[i]*inv
		uy, uh, ul := y-g*ry, h-g*rh, l-g*rl
		d := inv + g*g*n
		ry, rh, rl = y+keep*ry, h+keep*rh, l+keep*rl
		n = inv + keep*keep*n
		if c.start[i] {
			ry, rh, rl, n = 0, 0, 0, 0
		}
		do(i, uy-f.high*uh-f.low*ul, d-(hh*uh*uh-hl*uh*ul+ll*ul*ul))
	}
}

// cells corrects the likelihood of the filter for what it takes as Gaussian but is not: the sample lattice.
// An edge faster than the sample interval is known to lie in its cell, for certain, and nowhere else.
// For each edge the density of its residual, predicted from all other edges, is replaced by the probability
// of its cell (a single step of expectation propagation; Minka 2001). width is the width of the cell
// [0] for falling, [1] for rising edges, in the chain's unit.
func (c *chain) cells(f *filter, width [2]float64) float64 {
	sum := 0.0
	product, logs, count := 1.0, 0.0, 0.0 // of the variances and the squared densities, and the log of what was taken out of it
	c.foretold(f, func(i int, u, d float64) {
		w := width[kind(c.rise[i])]
		if w == 0 || c.n[i] > 1 || d < 1e-12 { // a mean over many cells has none; and none is of an edge that no other foretells
			return
		}
		v := 1 / d
		r := math.Abs(u * v)
		s2 := max(v-w*w/12, 1e-12)
		if s2 > blurred*w*w {
			return
		}
		density, more := cell.Density(r, s2, w)
		sum += more + 0.5*r*r*d
		if product *= v * density * density; product < 1e-200 || product > 1e200 {
			logs += math.Log(product)
			product = 1
		}
		count++
	})
	return sum + 0.5*(logs+math.Log(product)+count*math.Log(2*math.Pi))
}

const (
	blurred    = 0.3  // variance of a foretold edge, in widths², beyond which its cell makes no difference
	passes     = 30   // of expectation propagation at most,
	passStep   = 0.8  // each so far towards what it finds, half as far from where it swings about it on,
	passEnd    = 0.05 // and until the log of the evidence moves by no more than this,
	unsettled  = 1.0  // an answer that still moves by more after all passes is none: no walk of that size makes such cells
	passOff    = 40.0 // or falls short by so much after the second
	hopeless   = 50.0 // or by so much an edge: white noise of any size explains an edge that lies within e^hopeless cells as well
	leastKnown = 1e-9 // information about an edge's place that its cell adds at least, in 1/cells²
	mostKnown  = 1e12
)

// inCells is a train's answer where all that is known of its edges is the cell that each lies in: the log of the evidence, the mean
// high and low time less nominal, and their covariance.
type inCells struct {
	log, high, low float64
	row            budget.Row
}

// propagate finds it by expectation propagation (Minka 2001): for what its cell says of each edge stands a normal observation that
// gives it, beside all others, the mean and the variance that the cell would. side is the lower side of each edge's cell, less
// nominal. It ends where the evidence falls short of best.
func (c *chain) propagate(side []float64, e excess, best float64, f *filter) (a inCells) {
	p, n := *c, len(side)
	p.y, f.keep, f.own = resize(f.sites, n), true, resize(f.own, n)
	f.sites = p.y
	for i, x := range side {
		p.y[i], f.own[i] = x+0.5, 1.0/12
	}
	nz := noise{high: e.high, low: e.low}
	step, before := passStep, 0.0
	for pass := range passes {
		last := a.log
		p.run(&nz, f)
		det := f.shh*f.sll - f.shl*f.shl
		a = inCells{f.logLikelihood + 1.5*math.Log(2*math.Pi), f.high, f.low, budget.Row{High: f.sll / det, Both: -f.shl / det, Low: f.shh / det}}
		product := 1.0 // of the squared probabilities over d
		p.foretold(f, func(i int, u, d float64) {
			v := 1 / d
			left, mean := max(v-f.own[i], 1/mostKnown), p.y[i]-u*v
			value, log, slope, curve := cell.Inside(side[i], mean, left+e.white)
			a.log += log + 0.5*u*u*v
			if product *= value * value * v; product < 1e-200 || product > 1e200 {
				a.log += 0.5 * math.Log(product)
				product = 1
			}
			about := 1 / max(curve, leastKnown)
			known := max(about-left, 1/mostKnown) // the variance of what the cell adds
			added, was := step*f.own[i], (1-step)*known
			per := 1 / (added + was)
			p.y[i] = (was*p.y[i] + added*(mean+slope*about)) * per
			f.own[i] *= known * per
		})
		a.log += 0.5 * math.Log(product)
		change := a.log - last
		switch {
		case pass > 0 && a.log < -hopeless*float64(n):
			a.log = math.Inf(-1)
			return a
		case math.Abs(change) < passEnd || pass > 0 && a.log < best-passOff:
			return a
		}
		if pass > 1 && change*before < 0 && math.Abs(change) > math.Abs(before)/2 {
			step /= 2
		}
		before = change
	}
	if !(math.Abs(before) < unsettled) {
		a.log = math.Inf(-1)
	}
	return a
}

// squares is what answers so far from their mean add to its covariance.
func squares(high, low float64) budget.Row {
	return budget.Row{High: high * high, Both: high * low, Low: low * low}
}
