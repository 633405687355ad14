package interval

import "math"

// cells corrects the likelihood of the filter for what it takes as Gaussian but is not: the sample lattice.
// An edge faster than the sample interval is known to lie in its cell, for certain, and nowhere else.
// For each edge the density of its residual, predicted from all other edges, is replaced by the probability
// of its cell (a single step of expectation propagation; Minka 2001). width is the width of the cell
// [0] for falling, [1] for rising edges, in the chain's unit.
func (c *chain) cells(nz *noise, f *filter, width [2]float64) float64 {
	det := f.shh*f.sll - f.shl*f.shl
	sum := 0.0
	product, logs, count := 1.0, 0.0, 0.0
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
		r, v := math.Abs(u/d), 1/d
		s2 := max(v-width[k]*width[k]/12, 1e-12)
		if s2 > blurred*width[k]*width[k] {
			continue
		}
		sum += logCell(r, s2, width[k]) + 0.5*r*r/v
		if product *= v; product < 1e-200 || product > 1e200 {
			logs += math.Log(product)
			product = 1
		}
		count++
	}
	return sum + 0.5*(logs+math.Log(product)+count*math.Log(2*math.Pi))
}

// blurred is the variance of a foretold edge, in widths², beyond which its cell makes no difference.
const blurred = 0.3

// logCell is the log density of a uniform error of the given width plus a normal one of variance s2, at r >= 0.
func logCell(r, s2, width float64) float64 {
	s := math.Sqrt(s2)
	if width < 0.02*s { // the cell does not show
		return -0.5 * (r*r/s2 + math.Log(2*math.Pi*s2))
	}
	near, far := (width/2-r)/s, (width/2+r)/s
	l := 0.0
	if width != 1 {
		l = -math.Log(width)
	}
	if far > 6 {
		return l + logNormal(near)
	}
	in, beyond := logNormal(near), logNormal(-far)
	return l + in + math.Log1p(-math.Exp(beyond-in))
}

// The log of the normal distribution function is the inner loop of every fit, so it is tabulated; linear
// interpolation errs by less than 1e-5.
const (
	tableFrom = -8
	tableTo   = 6
	tableStep = 1.0 / 256
)

var logNormals = func() (t [(tableTo-tableFrom)/tableStep + 2]float64) {
	for i := range t {
		t[i] = math.Log(0.5 * math.Erfc(-(tableFrom+float64(i)*tableStep)/math.Sqrt2))
	}
	return t
}()

func logNormal(z float64) float64 {
	switch {
	case z >= tableTo:
		return 0
	case z < tableFrom: // first terms of the asymptotic series
		return -0.5*z*z - math.Log(-z*math.Sqrt(2*math.Pi)) + math.Log1p((3/(z*z)-1)/(z*z))
	}
	x := (z - tableFrom) / tableStep
	i := int(x)
	return logNormals[i] + (x-float64(i))*(logNormals[i+1]-logNormals[i])
}
