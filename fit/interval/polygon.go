package interval

import (
	"math"

	"offbeat/fit/budget"
)

// cellFit is the posterior of the mean high and low time of a steady train whose edges are known to their
// sample cells only. Edge k lies in its cell if c ≤ a + k P < c + 1: with no noise the rising edges leave a polygon of
// possible (a, P), the falling ones another, and the answer is their middle and size. White noise makes the sides
// soft. Given P the two are independent, so the integral over the three unknowns is one over P of
// two others side by side.
type cellFit struct {
	k, c  [2][]float64 // cycle number and lower side of the cell, [0] falling [1] rising edges
	l, u  []float64    // bounds that an edge puts on its line's offset, at the current P
	sigma float64
}

const (
	sureCell     = 0.9  // cells narrower than this (samples lie on the slope) are left to the linear fit
	offGrid      = 0.25 // edges further than this from a common grid are not on one
	largestSigma = 0.12 // cells; more noise makes the linear fit as good
	steadyWalk   = 0.3  // cells of wander over the record below which the train counts as steady
	offsets      = 24   // points of an inner integral
	deepest      = 9.0  // nats below the top at which an integral ends
	minPoints    = 14
	maxPoints    = 80
	hopeless     = 12.0  // nats below the best node after which more noise is not tried
	softest      = 0.012 // cells; with less noise the evidence along a bend is no normal curve
)

// sigmas are the nodes for the white noise of an edge, in cells; log-uniform, the first stands for all below.
var sigmas = []struct{ sigma, weight float64 }{{0.001, 7}, {0.004, 1}, {0.012, 1}, {0.03, 1}, {0.06, 0.7}, {0.12, 0.7}}

// newCellFit lays out a chain; ok is false if it is not one unbroken run on a grid with sharp edges.
func newCellFit(c *chain, fl *floors) (p *cellFit, ok bool) {
	if !c.single || fl.width[0] < sureCell || fl.width[1] < sureCell {
		return nil, false
	}
	p = &cellFit{}
	for i, x := range c.x {
		if i > 0 && c.start[i] {
			return nil, false
		}
		cell := math.Round(x - c.x[0])
		if math.Abs(x-c.x[0]-cell) > offGrid {
			return nil, false
		}
		s := kind(c.rise[i])
		p.k[s] = append(p.k[s], c.index[i])
		p.c[s] = append(p.c[s], cell)
	}
	n := max(len(p.k[0]), len(p.k[1]))
	p.l, p.u = make([]float64, 0, n), make([]float64, 0, n)
	return p, len(p.k[0]) >= 2 && len(p.k[1]) >= 2
}

// room is the range of offsets that period leaves to the edges of side s: hi - lo < 0 if they exclude each other.
func (p *cellFit) room(s int, period float64) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	c := p.c[s]
	for i, k := range p.k[s] {
		b := c[i] - k*period
		lo, hi = max(lo, b), min(hi, b+1)
	}
	return lo, hi
}

// least is the smaller room of the two sides.
func (p *cellFit) least(period float64) float64 {
	l0, h0 := p.room(0, period)
	l1, h1 := p.room(1, period)
	return min(h0-l0, h1-l1)
}

// widest finds the period that leaves most room, by golden section: the room is concave in the period.
func (p *cellFit) widest(period, reach float64) (best, room float64) {
	const g = 0.6180339887498949
	a, b := period-reach, period+reach
	x, y := b-g*(b-a), a+g*(b-a)
	fx, fy := p.least(x), p.least(y)
	for range 60 {
		if fx < fy {
			a, x, fx = x, y, fy
			y = a + g*(b-a)
			fy = p.least(y)
		} else {
			b, y, fy = y, x, fx
			x = b - g*(b-a)
			fx = p.least(x)
		}
	}
	return x, fx
}

// moments of the offset of side s given the period, and the log of the integral.
type moments struct{ log, mean, variance float64 }

func (p *cellFit) offset(s int, period float64) moments {
	lo, hi := p.room(s, period)
	from, to := min(lo, hi)-3.5*p.sigma, max(lo, hi)+3.5*p.sigma
	p.l, p.u = p.l[:0], p.u[:0]
	c := p.c[s]
	for i, k := range p.k[s] {
		b := c[i] - k*period
		if b > from-4*p.sigma || b+1 < to+4*p.sigma {
			p.l = append(p.l, b)
		}
	}
	step := (to - from) / offsets
	var ll [offsets]float64
	top := math.Inf(-1)
	for j := range ll {
		a := from + (float64(j)+0.5)*step
		for _, b := range p.l {
			ll[j] += logNormal((0.5 - math.Abs(a-b-0.5)) / p.sigma) // the far side is many sigma off
		}
		top = max(top, ll[j])
	}
	var w, m, q float64
	for j, l := range ll {
		e := math.Exp(l - top)
		d := (float64(j) + 0.5) * step
		w += e
		m += e * d
		q += e * d * d
	}
	m /= w
	return moments{top + math.Log(w*step), from + m, max(q/w-m*m, step*step/12)}
}

// point is one period of the outer integral.
type point struct{ period, log, high, variance float64 }

// solve integrates over the period, in steps that follow the width of the peak.
func (p *cellFit) solve(sigma, period, room, cycles float64) (log, high, mean float64, row budget.Row) {
	p.sigma = sigma
	step := (max(room, 0) + sigma) / cycles / 4
	var pts []point
	for range 12 {
		pts = p.march(period, step)
		if len(pts) >= maxPoints {
			step *= 4
		} else if len(pts) < minPoints {
			step /= 4
		} else {
			break
		}
	}
	top := math.Inf(-1)
	for _, x := range pts {
		top = max(top, x.log)
	}
	var w, h, t float64
	for _, x := range pts {
		e := math.Exp(x.log - top)
		w += e
		h += e * x.high
		t += e * (x.period - period)
	}
	h, t = h/w, t/w
	for _, x := range pts {
		e := math.Exp(x.log-top) / w
		dh, dt := x.high-h, x.period-period-t
		dl := dt - dh
		row.High += e * (dh*dh + x.variance)
		row.Low += e * (dl*dl + x.variance)
		row.Both += e * (dh*dl - x.variance)
	}
	return top + math.Log(w*step), h, period + t, row
}

// march evaluates points to both sides of a period until the integrand has died away.
func (p *cellFit) march(period, step float64) []point {
	var pts []point
	top := math.Inf(-1)
	for _, sign := range [2]float64{1, -1} {
		for i := 0; len(pts) < maxPoints; i++ {
			if sign < 0 && i == 0 {
				continue
			}
			x := period + sign*float64(i)*step
			fall, rise := p.offset(0, x), p.offset(1, x)
			l := fall.log + rise.log
			pts = append(pts, point{x, l, fall.mean - rise.mean, fall.variance + rise.variance})
			top = max(top, l)
			if l < top-deepest {
				break
			}
		}
	}
	return pts
}

// wander looks for a random walk of the edges about the fitted line, by its projections on the Legendre polynomials of
// degree 2 to 4: along each, the evidence is taken as normal. It returns the posterior mean of the walk's
// variance per period, log-uniform between exp(lo) and exp(hi), and the log of the evidence over that
// of no walk.
func (p *cellFit) wander(sigma, period, room, cycles, lo, hi float64) (walk, gain float64) {
	still, _, _, _ := p.solve(sigma, period, room, cycles)
	var mean, spread, share [3]float64
	for j := range mean {
		n := float64(j + 2)
		// variance of the projection of a unit walk: (1/(2n+3) + 1/(2n-1)) / (4 (2n+1))
		share[j] = (1/(2*n+3) + 1/(2*n-1)) / (4 * (2*n + 1)) * cycles
		d := sigma + 0.5/cycles
		up := p.bent(j+2, d, sigma, period, room, cycles)
		down := p.bent(j+2, -d, sigma, period, room, cycles)
		slope, curve := (up-down)/(2*d), (2*still-up-down)/(d*d)
		curve = max(curve, 0.1/(d*d))
		mean[j], spread[j] = slope/curve, 1/curve
	}
	const steps = 60
	var sum, total float64
	for i := range steps {
		q := math.Exp(lo + (hi-lo)*(float64(i)+0.5)/steps)
		l := 0.0
		for j := range mean {
			v := q*share[j] + spread[j]
			l -= 0.5 * (math.Log(v/spread[j]) + mean[j]*mean[j]*(1/v-1/spread[j]))
		}
		w := math.Exp(l)
		total += w
		sum += w * q
	}
	return sum / total, math.Log(total / steps)
}

// bent is the log of the integral after the edges have been moved by size times the normalised Legendre
// polynomial of the degree given.
func (p *cellFit) bent(degree int, size, sigma, period, room, cycles float64) float64 {
	straight := p.c
	first, last := math.Inf(1), math.Inf(-1)
	for _, k := range p.k {
		first, last = min(first, k[0]), max(last, k[len(k)-1])
	}
	for s := range p.c {
		moved := make([]float64, len(straight[s]))
		for i, k := range p.k[s] {
			moved[i] = straight[s][i] - size*legendre(degree, (k-first)/(last-first))
		}
		p.c[s] = moved
	}
	l, _, _, _ := p.solve(sigma, period, room, cycles)
	p.c = straight
	return l
}

// legendre is the shifted Legendre polynomial on [0, 1], normalised to mean square one.
func legendre(degree int, x float64) float64 {
	z := 2*x - 1
	a, b := 1.0, z
	for n := 1; n < degree; n++ {
		a, b = b, (float64(2*n+1)*z*b-float64(n)*a)/float64(n+1)
	}
	return math.Sqrt(float64(2*degree+1)) * b
}

// steadyFit is the answer if the train is steady, that is if its wander and jitter are small against a cell.
type steadyFit struct {
	high, period float64
	row          budget.Row
	walkRow      budget.Row // of random-walk noise too small to break the fit, if there is any
	still, walk  float64    // log of the evidence without a walk and with one, the prior share of what it covers included
	cycles       float64
}

// steady fits the chain by cells; nil if that does not apply.
func (c *chain) steady(fl *floors) *steadyFit {
	p, ok := newCellFit(c, fl)
	if !ok {
		return nil
	}
	r := &steadyFit{cycles: max(c.cycles, 1)}
	best, room := p.widest(c.h0+c.l0, 3/r.cycles)
	type node struct {
		sigma, log, high, period float64
		row                      budget.Row
	}
	var ns []node
	top, prior := math.Inf(-1), 0.0
	for _, s := range sigmas {
		prior += s.weight
		if room < -8*s.sigma || len(ns) > 0 && ns[len(ns)-1].log < top-hopeless {
			continue
		}
		l, h, t, row := p.solve(s.sigma, best, room, r.cycles)
		l += math.Log(s.weight)
		ns = append(ns, node{s.sigma, l, h, t, row})
		top = max(top, l)
	}
	if len(ns) == 0 {
		return nil
	}
	total := 0.0
	for i := range ns {
		ns[i].log = math.Exp(ns[i].log - top)
		total += ns[i].log
	}
	for _, n := range ns {
		r.high += n.log / total * n.high
		r.period += n.log / total * n.period
	}
	for _, n := range ns {
		w := n.log / total
		dh := n.high - r.high
		dl := n.period - r.period - dh
		r.row.High += w * (n.row.High + dh*dh)
		r.row.Both += w * (n.row.Both + dh*dl)
		r.row.Low += w * (n.row.Low + dl*dl)
	}
	sharpest := 0
	for i := range ns {
		if ns[i].log > ns[sharpest].log {
			sharpest = i
		}
	}
	lo, hi := c.prior(fl)
	limit := math.Log(r.limit())
	least := min(c.leastWalk(fl, ns[sharpest].sigma*ns[sharpest].sigma), limit-1)
	walk, gain := p.wander(max(ns[sharpest].sigma, softest), best, room, r.cycles, least, limit)
	r.walkRow = budget.Row{High: walk / 2 / r.cycles, Both: 0, Low: walk / 2 / r.cycles}
	r.walkRow.Both = (1.2*walk/r.cycles - r.walkRow.High - r.walkRow.Low) / 2
	still, some := steadyLogs(logSum(c.stillLog(), c.walkLog()+math.Log(part(limit, least, hi))), r.cycles)
	log := top + math.Log(total/prior)
	excess := log + logSum(still, some+gain) - c.steadyByFilter(fl, r, still, some)
	log += math.Log(part(steadyWhite, lo, hi)) - spread(best, r.cycles)*max(excess, 0)
	r.still, r.walk = log+still, log+some+gain
	if whole := math.Round(best); min(p.least(whole), p.least(best)) > locked {
		// Not one edge has slipped to another cell: the period may be locked to the sampling clock. Then rising
		// and falling edges each lie anywhere in their cell, and the high time has the variance of both; as
		// likely as not.
		more := max(1.0/6-r.row.High, 0) / 2
		r.row.High, r.row.Both, r.row.Low = r.row.High+more, r.row.Both-more, r.row.Low+more
	}
	return r
}

// steadyLogs splits the log of the prior probability of a steady train into no walk and one too small to leave its cells.
// The odds are the fourth root of the number of cycles, where the filter's are the square root: a train in which nothing
// shows but its cells says nothing against a walk, and errs alike either way then (by simulation: at 100 cycles the error
// of the period is 0.65 of what is stated without a walk, 1.6 times it with one; with the square root 0.8 and 2.2, with
// even odds 0.54 and 1.35).
func steadyLogs(both, cycles float64) (still, walk float64) {
	odds := math.Sqrt(math.Sqrt(cycles))
	return both - math.Log1p(1/odds), both - math.Log1p(odds)
}

// locked is the room, in cells, that edges leave to a period of whole cells when all of them agree with it.
const locked = 0.99

// spread tells how the edges of the train fall in their cells: 1 if everywhere and out of order, 0 if they
// crowd in one place or creep through the cell, as they do for a period near a simple ratio to the cell.
func spread(period, cycles float64) float64 {
	least := cycles
	for m := 1.0; m <= 3; m++ {
		least = min(least, cycles*math.Abs(m*period-math.Round(m*period)))
	}
	return min(max((least-2)/6, 0), 1)
}

// steadyByFilter is the evidence that the filter gives to a steady train, without a walk and with one at the logarithms
// of their prior probabilities. It knows cells by approximation only, and so do its other answers: evidence is compared
// within one approximation where that holds.
func (c *chain) steadyByFilter(fl *floors, r *steadyFit, still, some float64) float64 {
	f := filter{keep: true}
	sum, prior := math.Inf(-1), 0.0
	for _, s := range sigmas {
		prior += s.weight
		for _, w := range []struct{ log, step float64 }{{still, 0}, {some, r.limit() / 4}} {
			nz := fl.noise(excess{s.sigma * s.sigma, w.step, w.step})
			c.run(&nz, &f)
			sum = logSum(sum, math.Log(s.weight)+w.log+f.logLikelihood+c.cells(&nz, &f, fl.width))
		}
	}
	return sum - math.Log(prior) - float64(len(c.y)-3)/2*math.Log(2*math.Pi)
}

// steadyWhite is the log of the largest white variance of a steady train.
var steadyWhite = math.Log(largestSigma * largestSigma)

// covers tells whether noise of this size counts as steady.
func (s *steadyFit) covers(e excess) bool {
	return e.high+e.low < s.limit() && e.white < largestSigma*largestSigma
}

// limit is the variance of a walk's step below which the train counts as steady.
func (s *steadyFit) limit() float64 { return steadyWalk * steadyWalk / s.cycles }
