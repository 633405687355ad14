package interval

import "math"

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
	longChain   = 1024 // observations that leave so little doubt that half the draws do
	nodes       = 12   // draws from the posterior
	priorUp     = 25.0 // upper end of the prior of each variance, times the intervals' own scatter
	priorDown   = 1e-6 // and lower end, if quietest is not lower still
	quietest    = 1e-8 // relative jitter of one period below which no circuit of this kind is (common practice)
	keepShare   = 1e-3 // points with less than this share of the best likelihood do not stretch the next stage
	smallestVar = 1e-30
)

// found is the posterior of the noise.
type found struct {
	mean  excess
	drawn []excess // equally likely
	log   float64  // evidence: log of the likelihood averaged over the prior
}

// search averages the noise variances over their posterior: each has a log-uniform prior, the likelihood is
// the restricted likelihood of the chain. The integral is taken over Halton points in a box that closes in
// on the likelihood. What steady (may be nil) covers is left out.
func (c *chain) search(fl *floors, steady *steadyFit) found {
	lo, hi := c.prior(fl)
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
			ll[i] = f.logLikelihood
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

// prior is the box of the logarithms of the three variances.
func (c *chain) prior(fl *floors) (lo, hi [3]float64) {
	scale := c.scatter() + fl.known[0] + fl.known[1] + (fl.lattice[0]+fl.lattice[1])/10
	scale = max(scale, smallestVar)
	for k := range lo {
		lo[k], hi[k] = math.Log(min(scale*priorDown, c.quiet())), math.Log(scale*priorUp)
	}
	return lo, hi
}

// gather forms the means, the draws and the log of the mean likelihood.
func gather(u [][3]float64, ll []float64, top float64) (r found) {
	total := 0.0
	for i := range ll {
		ll[i] = math.Exp(ll[i] - top)
		total += ll[i]
	}
	r.log = top + math.Log(total/float64(len(ll)))
	sum, next := 0.0, total/nodes/2
	for i, w := range ll {
		e := excessAt(u[i])
		r.mean.white += w / total * e.white
		r.mean.high += w / total * e.high
		r.mean.low += w / total * e.low
		for sum += w; sum > next && len(r.drawn) < nodes; next += total / nodes {
			r.drawn = append(r.drawn, e)
		}
	}
	return r
}

func excessAt(u [3]float64) excess {
	return excess{math.Exp(u[0]), math.Exp(u[1]), math.Exp(u[2])}
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
