package interval

import (
	"cmp"
	"math"
	"slices"
)

// floors is what is known of the edges' white noise before the residuals are looked at, in the chain's unit².
type floors struct {
	known   [2]float64 // amplitude noise and time rounding, [0] fall [1] rise
	lattice [2]float64 // rounding to the sample lattice, taken as white while noise is sought
	width   [2]float64 // width of the cell that an edge is rounded to
}

// excess is the noise found in the train itself, as posterior means.
type excess struct {
	white     float64 // variance of every edge beyond what is known
	high, low float64 // variance of the random step in each high and low time
}

func (fl *floors) noise(e excess) noise {
	return noise{
		white: [2]float64{fl.known[0] + fl.lattice[0] + e.white, fl.known[1] + fl.lattice[1] + e.white},
		high:  e.high,
		low:   e.low,
	}
}

const (
	stages      = 4
	coarse      = 2 // stages that look at the first cycles only
	coarseSize  = 128
	draws       = 192
	longChain   = 1024  // observations that leave so little doubt that half the draws do
	nodes       = 12    // draws from the posterior
	priorUp     = 25.0  // upper end of the prior of each variance, times the intervals' own scatter; and more
	priorFew    = 4000  // by this over the cycles squared: the scatter of two or three intervals may be small by chance
	priorDown   = 1e-6  // and lower end, if quietest is not lower still
	quietest    = 1e-10 // relative jitter of one period below which no oscillator is (common practice: the best crystals)
	loudest     = 3e-3  // and the least upper end of it, whatever the scatter
	splitSpread = 2.0   // standard deviation of the log of the ratio of the steps' variances in high and low times
	splitReach  = 2.5   // and how many of them are looked at
	splitLog    = 0.7   // minus the log of that prior's mean over what is looked at
	keepShare   = 1e-3  // points with less than this share of the best likelihood do not stretch the next stage
	smallestVar = 1e-30
)

// found is the posterior of the noise.
type found struct {
	mean  excess
	drawn []excess // equally likely
	log   float64  // evidence: log of the likelihood averaged over the prior
}

// search averages the noise variances over their posterior: white noise and walk have log-uniform priors, the likelihood
// is the restricted likelihood of the chain. The integral is taken over Halton points in a box that closes in
// on the likelihood. What steady (may be nil) covers is left out.
func (c *chain) search(fl *floors, steady *steadyFit) found {
	lo, hi := c.prior(fl)
	even := c.even()
	volume := func(lo, hi [3]float64) float64 { return (hi[0] - lo[0]) * (hi[1] - lo[1]) * (hi[2] - lo[2]) }
	whole := volume(lo, hi)
	filters := make([]filter, cores())
	u := make([][3]float64, draws)
	ll := make([]float64, draws)
	head := c.head(coarseSize)
	top := 0.0
	for s := range stages {
		part := c
		if s < coarse {
			part = head
		} else if len(c.y) > longChain {
			u, ll = u[:draws/2], ll[:draws/2]
		}
		top = math.Inf(-1)
		share(len(u), len(u)*len(part.y), func(worker, i int) {
			h := halton(s*draws + i + 1)
			for k := range lo {
				u[i][k] = lo[k] + h[k]*(hi[k]-lo[k])
			}
			e := excessAt(u[i])
			if steady != nil && steady.covers(e) {
				ll[i] = math.Inf(-1)
				return
			}
			f := &filters[worker]
			f.keep = fl.width != [2]float64{}
			nz := fl.noise(e)
			part.run(&nz, f)
			ll[i] = f.logLikelihood + splitLog - (u[i][2]-even)*(u[i][2]-even)/(2*splitSpread*splitSpread)
			if f.keep {
				ll[i] += part.cells(&nz, f, fl.width)
			}
		})
		for _, l := range ll {
			top = max(top, l)
		}
		if s < stages-1 {
			lo, hi = shrink(u, ll, top, lo, hi)
		}
	}
	r := gather(u, ll, top)
	r.log += math.Log(volume(lo, hi)/whole) - float64(len(c.y)-3)/2*math.Log(2*math.Pi)
	return r
}

// even is the log of the ratio of the steps' variances where the noise is that of the thresholds, and goes with the time:
// the middle between the two being equal and going with the square.
func (c *chain) even() float64 { return math.Log(c.h0 / c.l0) }

// prior is the box of the unknowns: the logarithms of the white variance and of the walk's in one period, and how the
// walk splits into high and low times, as the log of their ratio. The times are alike in what makes their noise, so the
// few intervals of a short record borrow from each other (a normal prior of the split).
func (c *chain) prior(fl *floors) (lo, hi [3]float64) {
	scale := c.scatter() + fl.known[0] + fl.known[1] + (fl.lattice[0]+fl.lattice[1])/10
	scale = max(scale, smallestVar)
	loud := loudest * (c.h0 + c.l0)
	hi[0] = math.Log(max(scale*(priorUp+priorFew/(c.cycles*c.cycles)), loud*loud))
	lo[0] = math.Log(min(scale*priorDown, c.quiet()))
	lo[1], hi[1] = lo[0], hi[0]
	even := c.even()
	lo[2], hi[2] = even-splitReach*splitSpread, even+splitReach*splitSpread
	return lo, hi
}

// gather forms the means, the nodes and the log of the mean likelihood. The nodes are the means of strata of equal
// probability, ordered by the walk: so their mean is that of all points.
func gather(u [][3]float64, ll []float64, top float64) (r found) {
	total := 0.0
	order := make([]int, 0, len(ll))
	for i := range ll {
		ll[i] = math.Exp(ll[i] - top)
		total += ll[i]
		if ll[i] > 0 {
			order = append(order, i)
		}
	}
	r.log = top + math.Log(total/float64(len(ll)))
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(u[a][1], u[b][1]) })
	var node excess
	room, each := total/nodes, total/nodes
	for _, i := range order {
		e, w := excessAt(u[i]), ll[i]
		for w > 0 {
			part := min(w, room)
			node.white += part / each * e.white
			node.high += part / each * e.high
			node.low += part / each * e.low
			w -= part
			if room -= part; room <= 1e-12*total {
				r.drawn = append(r.drawn, node)
				node, room = excess{}, each
			}
		}
	}
	for _, e := range r.drawn {
		n := float64(len(r.drawn))
		r.mean.white += e.white / n
		r.mean.high += e.high / n
		r.mean.low += e.low / n
	}
	return r
}

func excessAt(u [3]float64) excess {
	walk := math.Exp(u[1])
	share := 1 / (1 + math.Exp(-u[2]))
	return excess{math.Exp(u[0]), walk * share, walk * (1 - share)}
}

// shrink closes the box around the points that matter, with a margin.
func shrink(u [][3]float64, ll []float64, top float64, lo, hi [3]float64) (nlo, nhi [3]float64) {
	cut := top + math.Log(keepShare)
	for k := range lo {
		nlo[k], nhi[k] = math.Inf(1), math.Inf(-1)
		for i := range u {
			if ll[i] > cut {
				nlo[k], nhi[k] = min(nlo[k], u[i][k]), max(nhi[k], u[i][k])
			}
		}
		margin := (hi[k] - lo[k]) / 16
		nlo[k], nhi[k] = max(nlo[k]-margin, lo[k]), min(nhi[k]+margin, hi[k])
	}
	return nlo, nhi
}

// quiet is the variance of an oscillator whose period is steady to quietest: the lower end of the priors.
func (c *chain) quiet() float64 {
	s := quietest * (c.h0 + c.l0)
	return s * s
}

// scatter is the mean square difference of neighbouring intervals of one kind, halved.
func (c *chain) scatter() float64 {
	var s, n float64
	for i := 3; i < len(c.y); i++ {
		if c.start[i] || c.start[i-1] || c.start[i-2] {
			continue
		}
		d := (c.y[i] - c.y[i-1]) - (c.y[i-2] - c.y[i-3])
		s += d * d / 2 * c.n[i]
		n++
	}
	return s / max(n, 1)
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
