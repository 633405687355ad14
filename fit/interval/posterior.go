package interval

import "math"

// floors is what is known of the edges' white noise before the residuals are looked at, in the chain's unit².
type floors struct {
	known   [2]float64 // amplitude noise and time rounding, [0] fall [1] rise
	lattice [2]float64 // rounding to the sample lattice, taken as white while noise is sought
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
	stages      = 3
	draws       = 256
	priorUp     = 25.0 // upper end of the prior of each variance, times the intervals' own scatter
	priorDown   = 1e-6 // and lower end
	keepShare   = 1e-3 // nodes with less than this share of the best likelihood do not stretch the next stage
	smallestVar = 1e-30
)

// search averages the noise variances over their posterior: each has a log-uniform prior, the likelihood is
// the restricted likelihood of the chain. The integral is taken over Halton points in a box that
// closes in on the likelihood.
func (c *chain) search(fl *floors) excess {
	scale := c.scatter() + fl.known[0] + fl.known[1] + (fl.lattice[0]+fl.lattice[1])/10
	scale = max(scale, smallestVar)
	var lo, hi [3]float64
	for k := range lo {
		lo[k], hi[k] = math.Log(scale*priorDown), math.Log(scale*priorUp)
	}
	var sum, best excess
	_ = best
	var f filter
	var u [draws][3]float64
	var ll [draws]float64
	for s := range stages {
		top := math.Inf(-1)
		for i := range draws {
			h := halton(s*draws + i + 1)
			for k := range lo {
				u[i][k] = lo[k] + h[k]*(hi[k]-lo[k])
			}
			nz := fl.noise(excess{math.Exp(u[i][0]), math.Exp(u[i][1]), math.Exp(u[i][2])})
			c.run(&nz, &f)
			ll[i] = f.logLikelihood
			top = max(top, ll[i])
		}
		if s < stages-1 {
			lo, hi = shrink(u[:], ll[:], top, lo, hi)
			continue
		}
		total := 0.0
		for i := range draws {
			w := math.Exp(ll[i] - top)
			total += w
			sum.white += w * math.Exp(u[i][0])
			sum.high += w * math.Exp(u[i][1])
			sum.low += w * math.Exp(u[i][2])
		}
		sum.white /= total
		sum.high /= total
		sum.low /= total
	}
	return sum
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
