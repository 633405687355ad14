package noise

import (
	"math"
	"runtime"

	"offbeat/acquire"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
)

// The budget's names of the components that other files look for.
const (
	walkName    = "random-walk period noise"
	LatticeName = "sample interval"
	humName     = "mains hum"
	slowName    = "flicker and wander of the period"
	allanName   = "Allan deviation at its longest time"
	sharesName  = "slow changes of the duty factor"
)

// unlikely is the probability of a hypothesis below which its answer need not be exact.
const unlikely = 1e-4

// model is a train laid out, and what was found of its noise.
type model struct {
	c, sample, digest *chain // digest may be nil
	lattice           *cell.Lattice
	fl                floors
	rounding          acquire.Rounding
	steady            *steadyFit // may be nil
	ways              []way
	lines             []float64 // turns of the mains in a period, where a line may hide in the cells
}

// way is the answer under one hypothesis of the noise.
type way struct {
	found
	fl        floors
	own       *budget.Row // what rounding one by one leaves open; nil: instants were rounded
	walks     bool
	h, l      float64      // less nominal
	high, low []float64    // weights of the observations
	phase     []float64    // smoothed edge times
	local     float64      // and how far noise leaves them open
	rows      []budget.Row // of the noise, of hum, and of the lattice
}

// comb is what is left of harmonic m in a mean over n edges one period apart, about their middle.
func (c *chain) comb(i int, m float64) float64 {
	n, turns := c.n[i], m*(c.h0+c.l0)
	whole := math.Round(turns)
	sign := 1 - 2*math.Mod(math.Abs(whole)*(n-1), 2)
	d := math.Pi * (turns - whole)
	if s := math.Sin(d); math.Abs(s) > 1e-12 {
		return sign * math.Sin(n*d) / (n * s)
	}
	return sign
}

// sincos of 2π x.
func sincos(x float64) (s, c float64) {
	return math.Sincos(2 * math.Pi * (x - math.Floor(x)))
}

// cores is how many workers share what there is to do; each has a number below it, for memory of its own.
func cores() int { return runtime.GOMAXPROCS(0) }
