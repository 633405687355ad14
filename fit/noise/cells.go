package noise

import (
	"math"

	"offbeat/fit/cell"
)

// cells corrects the likelihood of the filter for what it takes as Gaussian but is not: the sample lattice.
// An edge faster than the sample interval is known to lie in its cell, for certain, and nowhere else.
// For each edge the density of its residual, predicted from all other edges, is replaced by the probability
// of its cell (a single step of expectation propagation; Minka 2001). width is the width of the cell
// [0] for falling, [1] for rising edges, in the chain's unit.
func (c *chain) cells(nz *noise, f *filter, width [2]float64) float64 {
	det := f.shh*f.sll - f.shl*f.shl
	sum := 0.0
	product, logs, count := 1.0, 0.0, 0.0 // of the variances and the squared densities, and the log of what was taken out of it
	var ry, rh, rl, n float64
	for i := len(c.y) - 1; i >= 0; i-- {
		inv, g := 1/f.f[i], f.gain[i]
		keep := 1 - g
		uy, uh, ul := f.vy[i]*inv-g*ry, f.vh[i]*inv-g*rh, f.vl[i]*inv-g*rl
		d := inv + g*g*n
		ry, rh, rl = f.vy[i]*inv+keep*ry, f.vh[i]*inv+keep*rh, f.vl[i]*inv+keep*rl
		n = inv + keep*keep*n
		if c.start[i] {
			ry, rh, rl, n = 0, 0, 0, 0
		}
		k := kind(c.rise[i])
		if width[k] == 0 || c.n[i] > 1 { // a mean over many cells has none
			continue
		}
		u := uy - f.high*uh - f.low*ul
		d -= (f.sll*uh*uh - 2*f.shl*uh*ul + f.shh*ul*ul) / det
		if d < 1e-12 {
			continue // no other edge foretells this one
		}
		v := 1 / d
		r := math.Abs(u * v)
		s2 := max(v-width[k]*width[k]/12, 1e-12)
		if s2 > blurred*width[k]*width[k] {
			continue
		}
		density, more := cell.Density(r, s2, width[k])
		sum += more + 0.5*r*r*d
		if product *= v * density * density; product < 1e-200 || product > 1e200 {
			logs += math.Log(product)
			product = 1
		}
		count++
	}
	return sum + 0.5*(logs+math.Log(product)+count*math.Log(2*math.Pi))
}

// blurred is the variance of a foretold edge, in widths², beyond which its cell makes no difference.
const blurred = 0.3
