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
	perDet := 1 / (f.shh*f.sll - f.shl*f.shl)
	hh, hl, ll := f.sll*perDet, 2*f.shl*perDet, f.shh*perDet
	sum := 0.0
	product, logs, count := 1.0, 0.0, 0.0 // of the variances and the squared densities, and the log of what was taken out of it
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
		w := width[kind(c.rise[i])]
		if w == 0 || c.n[i] > 1 { // a mean over many cells has none
			continue
		}
		u := uy - f.high*uh - f.low*ul
		d -= hh*uh*uh - hl*uh*ul + ll*ul*ul
		if d < 1e-12 {
			continue // no other edge foretells this one
		}
		v := 1 / d
		r := math.Abs(u * v)
		s2 := max(v-w*w/12, 1e-12)
		if s2 > blurred*w*w {
			continue
		}
		density, more := cell.Density(r, s2, w)
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
