package noise

import "math"

// floors is what is known of the edges' white noise before the residuals are looked at, in the chain's unit².
type floors struct {
	known   [2]float64 // amplitude noise and time rounding, [0] fall [1] rise
	steps   [2]float64 // of what adds up, in each high [0] and low [1] time, unit²: rounding of durations one by one
	lattice [2]float64 // rounding to the sample lattice, taken as white while noise is sought
	width   [2]float64 // width of the cell that an edge is rounded to
	places  bool       // that cell is the whole part of the edge's place
}

// excess is the noise found in the train itself, as posterior means.
type excess struct {
	white     float64 // variance of every edge beyond what is known
	high, low float64 // variance of the random step in each high and low time
}

func (fl *floors) noise(e excess) noise {
	return noise{
		white: [2]float64{fl.known[0] + fl.lattice[0] + e.white, fl.known[1] + fl.lattice[1] + e.white},
		high:  fl.steps[0] + e.high,
		low:   fl.steps[1] + e.low,
	}
}

// found is the posterior of the noise under one hypothesis: its mean.
type found struct {
	excess
	log float64 // evidence: log of the likelihood averaged over the whole prior, that of the hypothesis included
}

// stillLog and walkLog are the logarithms of the prior probabilities of no walk that matters and of one. The odds are the
// square root of the number of cycles, as Schwarz (1978) lets one more unknown count, and less where few cycles tell nothing of it:
// the noise of a relaxation oscillator's thresholds adds up, for each cycle begins where the last has ended. There the prior
// decides, and it errs to the wide side; in many cycles a walk that matters shows itself.
func (c *chain) stillLog() float64 { return -math.Log1p(1 / stillOdds(c.cycles)) }

func (c *chain) walkLog() float64 { return -math.Log1p(stillOdds(c.cycles)) }

// stillOdds are the prior odds of no walk: the root of the cycles, or that many thirtieths of one, which lets a walk below
// the sample interval hide; even odds at least.
func stillOdds(cycles float64) float64 { return min(math.Sqrt(cycles), max(cycles/30, 1)) }

// leastWalk is the log of the least variance of a walk's step that matters beside white noise of the variance given: over
// the cycles it adds 1.2 times itself over their number to the variance of the mean period, white noise 6 times itself
// over the cube, and rounding to the lattice that no noise breaks up as much over the fourth power. Less than a tenth more
// uncertainty is as good as no walk.
func (c *chain) leastWalk(fl *floors, white float64) float64 {
	white += (fl.known[0]+fl.known[1])/2 + (fl.lattice[0]+fl.lattice[1])/2/c.cycles
	return math.Log(white / (c.cycles * c.cycles))
}

// prior is the range of the logarithm of the white variance; its upper end is that of the walk's in one period too, which
// begins with leastWalk. How the walk splits into high and low times is the log of their ratio. The times are alike in
// what makes their noise, so the few intervals of a short record borrow from each other (a normal prior of the split).
func (c *chain) prior(fl *floors) (lo, hi float64) {
	scale := c.scatter() + fl.known[0] + fl.known[1] + (fl.lattice[0]+fl.lattice[1])/10
	scale = max(scale, smallestVar)
	quiet, loud := quietest*(c.h0+c.l0), loudest*(c.h0+c.l0)
	return math.Log(min(scale*priorDown, quiet*quiet)), math.Log(max(scale*(priorUp), loud*loud))
}

// part is the share of a range that lies below limit.
func part(limit, lo, hi float64) float64 {
	return min(max((limit-lo)/(hi-lo), 1e-6), 1-1e-6)
}

const (
	longChain   = 1024 // observations that leave so little doubt that fewer draws do
	priorUp     = 25.0 // upper end of the prior of each variance, times the intervals' own scatter
	priorDown   = 1e-6 // and lower end of the white noise's
	quietest    = 1e-5 // lower end of the white noise, relative to a period, if priorDown is not lower still (common practice: the best timers)
	loudest     = 3e-3 // and the least upper end of it, whatever the scatter
	splitSpread = 2.0  // standard deviation of the log of the ratio of the steps' variances in high and low times
	splitReach  = 4.0  // and how many of them are looked at
	splitLog    = 1.16 // minus the log of that prior's mean over what is looked at
	keepShare   = 1e-3 // points with less than this share of the best likelihood do not stretch the next stage
	keepLong    = 0.02 // nor with less than this in a long chain, whose likelihood has no long tails
	keepLeast   = 16   // but the best one of so many do
	lookOff     = 4.0  // nats, that a first look at a whole chain may fall short by, and a fourth of it a second
	smallestVar = 1e-30
)

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
