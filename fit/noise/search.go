package noise

import (
	"math"
	"slices"

	"offbeat/fit/workers"

	"gonum.org/v1/gonum/floats"
)

// stage is one look at the likelihood of a chain: at how many points.
type stage struct {
	of    *chain
	draws int
}

// stagesWalk are the looks that close in on the likelihood of a walk: means over the whole record, digest (nil: none), tell one that the
// cycles kept singly are too few for.
func (c *chain) stagesWalk(digest *chain) []stage {
	if digest == nil {
		return []stage{{c, 64}, {c, 64}, {c, 64}, {c, 64}}
	}
	last := 80
	if len(c.y) > longChain {
		last = 40
	}
	return []stage{{digest, 96}, {digest, 64}, {digest, 64}, {c, 32}, {c, last}}
}

// kindOf is which of the two noises is the larger. The likelihood runs along the axes of a box of the larger noise and
// of by how much the other is less: one is told well, the other may be anything below.
type kindOf int

const (
	still  kindOf = iota // no walk
	weak                 // the walk is less
	strong               // the white noise is less
)

// box is a range of the unknowns: the log of the larger variance, how much less that of the other is, and the log of the
// ratio of the steps' variances in high and low times.
type box struct {
	kind   kindOf
	lo, hi [3]float64
	least  float64 // lower end of the prior of the white noise
	most   float64 // upper end of that of the walk
	share  float64 // log of the prior probability, times the range where the prior is a density
}

// searchStill averages the noise over its posterior without a walk. What steady (may be nil) covers is left out.
func (c *chain) searchStill(fl *floors, steady *steadyFit) found {
	lo, hi := c.prior(fl)
	hi += math.Log(c.cycles) // a walk that is taken for white noise
	b := box{still, [3]float64{lo, 0, c.even()}, [3]float64{hi, 0, c.even()}, lo, hi, c.stillLog() - splitLog}
	if steady != nil {
		b.share += math.Log(1 - part(steadyWhite, lo, hi))
		b.lo[0] = max(lo, steadyWhite)
	}
	return c.search(fl, nil, math.Inf(-1), b, []stage{{c, 16}, {c, 16}, {c, 16}, {c, 16}}) // the white noise is the only unknown
}

// searchWalk averages the noise over its posterior with a walk that is less than the white noise, and with one that is
// more. What steady (may be nil) covers is left out.
func (c *chain) searchWalk(digest *chain, fl *floors, steady *steadyFit) (less, more found) {
	lo, hi := c.prior(fl)
	reach, least := splitReach*splitSpread, c.leastWalk(fl, math.Exp(lo))
	rival := math.Inf(-1)
	if steady != nil {
		rival = steady.walk.log
	}
	in := func(kind kindOf, from, deep float64) found {
		b := box{kind, [3]float64{from, 0, c.even() - reach}, [3]float64{hi, deep, c.even() + reach}, lo, hi,
			c.walkLog() + math.Log((hi-from)*deep/(hi-lo))}
		return c.search(fl, steady, rival, b, c.stagesWalk(digest))
	}
	less = in(weak, lo, 2*math.Log(c.cycles))
	rival = max(rival, less.log)
	return less, in(strong, least, hi-lo)
}

// search averages the noise variances over their posterior: white noise and walk have log-uniform priors, the likelihood
// is the restricted likelihood of the chain. The integral is taken over Halton points in a box that closes in
// on the likelihood, stage by stage. Beside a rival that is far likelier, by the log of its evidence, a first or second look at the whole chain
// is enough.
func (c *chain) search(fl *floors, steady *steadyFit, rival float64, b box, plan []stage) (r found) {
	even := c.even()
	filters := make([]filter, cores())
	u := make([][3]float64, plan[0].draws)
	es := make([]excess, plan[0].draws)
	ll := make([]float64, plan[0].draws)
	taken, whole := 0, 0 // points, and looks at the whole chain
	for s, now := range plan {
		part := now.of
		u, es, ll = u[:now.draws], es[:now.draws], ll[:now.draws]
		workers.Each(len(u), cores(), func(worker, i int) {
			u[i] = b.point(taken + i)
			e := b.excess(u[i])
			es[i] = e
			room := 1.0
			if b.kind != still {
				room = b.most - c.leastWalk(fl, e.white)
			}
			if !b.holds(u[i], room) || steady != nil && steady.covers(e) {
				ll[i] = math.Inf(-1)
				return
			}
			f := &filters[worker]
			f.keep = fl.width != [2]float64{}
			nz := fl.noise(e)
			part.run(&nz, f)
			ll[i] = f.logLikelihood - math.Log(room) + splitLog - (u[i][2]-even)*(u[i][2]-even)/(2*splitSpread*splitSpread)
			if f.keep {
				ll[i] += part.cells(f, fl.width)
			}
		})
		taken += now.draws
		r = gather(es, ll)
		r.log += b.share - float64(len(c.y)-3)/2*math.Log(2*math.Pi)
		if len(part.y) == len(c.y) {
			whole++
		}
		if s == len(plan)-1 || whole > 0 && r.log < rival+math.Log(unlikely)-lookOff/float64(whole*whole) {
			break
		}
		b = b.shrink(u, ll, part.keep())
	}
	return r
}

// even is the log of the ratio of the steps' variances where the noise is that of the thresholds, and goes with the time:
// the middle between the two being equal and going with the square.
func (c *chain) even() float64 { return math.Log(c.h0 / c.l0) }

// gather forms the mean and the log of the mean likelihood.
func gather(es []excess, logs []float64) (r found) {
	all := floats.LogSumExp(logs)
	r.log = all - math.Log(float64(len(logs)))
	if math.IsInf(all, -1) { // steady covers all of it
		r.excess = es[0]
		return r
	}
	for i, l := range logs {
		w := math.Exp(l - all)
		r.white += w * es[i].white
		r.high += w * es[i].high
		r.low += w * es[i].low
	}
	return r
}

// excess is the noise at a point of the box.
func (b *box) excess(u [3]float64) excess {
	white, walk := math.Exp(u[0]), 0.0
	switch b.kind {
	case weak:
		walk = math.Exp(u[0] - u[1])
	case strong:
		white, walk = math.Exp(u[0]-u[1]), white
	}
	share := 1 / (1 + math.Exp(-u[2]))
	return excess{white, walk * share, walk * (1 - share)}
}

// point is that point of the box's Halton sequence.
func (b *box) point(i int) [3]float64 {
	u := halton(i + 1)
	for k, h := range u {
		u[k] = b.lo[k] + h*(b.hi[k]-b.lo[k])
	}
	return u
}

// holds tells whether a point lies in the prior, where the log of the walk's variance lies at most room below most.
func (b *box) holds(u [3]float64, room float64) bool {
	switch b.kind {
	case weak:
		return u[0]-u[1] >= b.most-room
	case strong:
		return u[0] >= b.most-room && u[0]-u[1] >= b.least
	}
	return true
}

// keep is the share of the best likelihood with which a point matters.
func (c *chain) keep() float64 {
	if len(c.y) > longChain {
		return keepLong
	}
	return keepShare
}

// shrink closes the box around the points that matter, with a margin.
func (b box) shrink(u [][3]float64, ll []float64, keep float64) box {
	best := slices.Sorted(slices.Values(ll))
	cut, margin := best[len(best)-1]+math.Log(keep), 1.0/16
	if c := best[len(best)-1-len(best)/keepLeast]; c < cut { // so few that the best place may lie beside them
		cut, margin = c, 1.0/8
	}
	for k := range b.lo {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range u {
			if ll[i] >= cut && !math.IsInf(ll[i], -1) {
				lo, hi = min(lo, u[i][k]), max(hi, u[i][k])
			}
		}
		whole := b.hi[k] - b.lo[k]
		if whole == 0 || lo > hi { // nothing to close in on
			continue
		}
		b.lo[k], b.hi[k] = max(lo-margin*whole, b.lo[k]), min(hi+margin*whole, b.hi[k])
		b.share += math.Log((b.hi[k] - b.lo[k]) / whole)
	}
	return b
}

// halton is point i of the Halton sequence in bases 2, 3, 5.
func halton(i int) [3]float64 {
	var h [3]float64
	for k, base := range [3]int{2, 3, 5} {
		f := 1.0
		for n := i; n > 0; n /= base {
			f /= float64(base)
			h[k] += f * float64(n%base)
		}
	}
	return h
}
