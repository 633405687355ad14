package noise

import (
	"math"

	"offbeat/fit/train"
)

// chain is the edges of all runs in order, ready for the filter: each observation is a true edge time plus
// white noise; from one to the next the true time moves by whole high and low times plus a random step.
// Times are in units of the caller's choice.
type chain struct {
	y      []float64 // observed less nominal
	x      []float64 // observed, hum taken off
	seen   []float64 // observed, where hum was taken off; nil: as x
	rise   []bool
	start  []bool    // first of its run
	dh, dl []float64 // high and low times since the observation before
	n      []float64 // edges averaged into the observation
	index  []float64 // cycle number, over the whole chain
	h0, l0 float64   // nominal high and low time
	single bool      // no averages
	cycles float64   // cycles spanned by all runs
}

// newChain lays out cycles; scale turns their unit into the chain's.
func newChain(cycles []train.Cycle, scale float64) *chain {
	c := &chain{single: true}
	c.h0, c.l0 = nominal(cycles, scale)
	var prev train.Cycle
	var base, highs, lows float64 // cycle number of the run's first; whole times up to the edge before
	for i, k := range cycles {
		first := k.Start || i == 0
		if first && i > 0 {
			base += prev.Index - k.Index + 1
		}
		if k.N > 1 {
			c.single = false
		}
		edge := func(x float64, rise bool, high float64) {
			if !math.IsNaN(x) {
				c.add(x*scale, rise, first, high-highs, k.Index-lows, float64(k.N), base+k.Index)
				highs, lows, first = high, k.Index, false
			}
		}
		edge(k.Rise, true, k.Index)
		edge(k.Fall, false, k.Index+1)
		prev = k
	}
	return c
}

func (c *chain) add(x float64, rise, start bool, dh, dl, n, index float64) {
	if start {
		dh, dl = 0, 0
	}
	y := 0.0
	if k := len(c.y); !start {
		y = c.y[k-1] + (x - c.x[k-1] - dh*c.h0 - dl*c.l0)
		c.cycles += (dh + dl) / 2
	}
	c.x, c.y = append(c.x, x), append(c.y, y)
	c.rise, c.start = append(c.rise, rise), append(c.start, start)
	c.dh, c.dl = append(c.dh, dh), append(c.dl, dl)
	c.n, c.index = append(c.n, n), append(c.index, index)
}

// nominal is the plain mean high and low time: the low time is what the mean period leaves, or where no run has a whole one, the
// gaps' mean.
func nominal(cycles []train.Cycle, scale float64) (h, l float64) {
	var high, low, period, nh, nl, np float64
	add := func(sum, n *float64, d, count float64) {
		if !math.IsNaN(d) {
			*sum, *n = *sum+d*scale, *n+count
		}
	}
	last := train.Cycle{Rise: math.NaN(), Fall: math.NaN()}
	for _, k := range cycles {
		if k.Start {
			last.Rise, last.Fall = math.NaN(), math.NaN()
		}
		add(&high, &nh, (k.Fall-k.Rise)*float64(k.N), float64(k.N))
		add(&period, &np, k.Rise-last.Rise, k.Index-last.Index)
		add(&low, &nl, k.Rise-last.Fall, 1)
		if last.Fall = k.Fall; !math.IsNaN(k.Rise) {
			last = k
		}
	}
	h = high / max(nh, 1)
	if np > 0 {
		return h, period/np - h
	}
	return h, low / max(nl, 1)
}

// noise is the variances of the model, in the chain's unit squared.
type noise struct {
	white [2]float64 // of a falling [0] and of a rising [1] edge, known part and the rest together
	high  float64    // of the random step in each high time
	low   float64    // and in each low time
}

// filter is the result of one pass of the Kalman filter with the high and the low time as regressors
// (generalised least squares; level diffuse at the start of each run).
type filter struct {
	high, low     float64   // estimates less nominal
	shh, shl, sll float64   // information matrix
	logLikelihood float64   // restricted likelihood
	vy, vh, vl    []float64 // innovations
	inv, gain     []float64 // 1 over their variance, and the gain
	keep          bool
	own           []float64 // variances of the observations, in the place of those of the white noise; may be nil
	sites         []float64 // see propagate
}

// step is the random-walk variance gained before observation i.
func (c *chain) step(i int, nz *noise) float64 {
	if c.n[i] == 1 {
		return c.dh[i]*nz.high + c.dl[i]*nz.low
	}
	// Means over n cycles: the difference of two neighbours has 2/3 of the variance that the centres have
	// (Working 1960), as long as the walk stands out of the white noise.
	if c.dl[i] == 0 {
		return nz.high / c.n[i]
	}
	q, w := c.dh[i]*nz.high+c.dl[i]*nz.low, 6*nz.white[0]/c.n[i]
	return q * (1 - q/(q+w)/3)
}

// run filters the chain under the given noise.
func (c *chain) run(nz *noise, f *filter) {
	var ay, ah, al, p float64
	var syy, shy, sly, shh, shl, sll, logf float64
	product, n := 1.0, 0
	if f.keep {
		k := len(c.y)
		f.vy, f.vh, f.vl = resize(f.vy, k), resize(f.vh, k), resize(f.vl, k)
		f.inv, f.gain = resize(f.inv, k), resize(f.gain, k)
	}
	for i, y := range c.y {
		r := nz.white[0]
		if c.rise[i] {
			r = nz.white[1]
		}
		if !c.single {
			r /= c.n[i]
		}
		if f.own != nil {
			r = f.own[i]
		}
		if c.start[i] {
			ay, ah, al, p = y, 0, 0, r
			if f.keep {
				f.vy[i], f.vh[i], f.vl[i], f.inv[i], f.gain[i] = 0, 0, 0, 0, 1
			}
			continue
		}
		if c.single {
			p += c.dh[i]*nz.high + c.dl[i]*nz.low
		} else {
			p += c.step(i, nz)
		}
		variance := p + r
		inv := 1 / variance
		g := p * inv
		// ah, al: filtered regressor less the regressor itself
		vy := y - ay
		vh, vl := c.dh[i]-ah, c.dl[i]-al
		syy += vy * vy * inv
		shy += vh * vy * inv
		sly += vl * vy * inv
		shh += vh * vh * inv
		shl += vh * vl * inv
		sll += vl * vl * inv
		if product *= variance; product < 1e-200 || product > 1e200 {
			logf += math.Log(product)
			product = 1
		}
		n++
		ay += g * vy
		ah, al = -(1-g)*vh, -(1-g)*vl
		p = g * r
		if f.keep {
			f.vy[i], f.vh[i], f.vl[i], f.inv[i], f.gain[i] = vy, vh, vl, inv, g
		}
	}
	logf += math.Log(product)
	det := shh*sll - shl*shl
	f.shh, f.shl, f.sll = shh, shl, sll
	f.high = (sll*shy - shl*sly) / det
	f.low = (shh*sly - shl*shy) / det
	f.logLikelihood = -0.5 * (logf + math.Log(det) + syy - f.high*shy - f.low*sly)
}

func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// weights gives the estimates of high and low as sums over the observations: estimate = Σ w x. Within
// each run the weights add to nothing.
func (c *chain) weights(f *filter) (wh, wl []float64) {
	n := len(c.y)
	wh, wl = make([]float64, n), make([]float64, n)
	det := f.shh*f.sll - f.shl*f.shl
	var rh, rl float64
	for i := n - 1; i >= 0; i-- {
		// Backward pass of the smoother on both regressors (Durbin and Koopman 2012, 4.5).
		vh, vl, g := f.vh[i]*f.inv[i], f.vl[i]*f.inv[i], f.gain[i]
		uh, ul := vh-g*rh, vl-g*rl
		rh, rl = vh+(1-g)*rh, vl+(1-g)*rl
		wh[i] = (f.sll*uh - f.shl*ul) / det
		wl[i] = (f.shh*ul - f.shl*uh) / det
		if c.start[i] {
			rh, rl = 0, 0
		}
	}
	return wh, wl
}

// path gives the smoothed true edge times, and the mean variance that local noise leaves in them: by how much
// an edge may be elsewhere although the mean high and low time are right.
func (c *chain) path(nz *noise, f *filter) (x []float64, local float64) {
	x = c.misfits(f)
	var n float64
	for i := len(x) - 1; i >= 0; i-- {
		g, inv := f.gain[i], f.inv[i]
		d := inv + g*g*n
		n = inv + (1-g)*(1-g)*n
		white := nz.white[kind(c.rise[i])] / c.n[i]
		x[i] = c.x[i] - white*x[i]
		local += max(white-white*white*d, 0)
		if c.start[i] {
			n = 0
		}
	}
	return x, local / float64(len(x))
}

// misfits are the residuals of a filtered chain from high and low time, times the inverse of their covariance.
func (c *chain) misfits(f *filter) []float64 {
	u := make([]float64, len(c.y))
	r := 0.0
	for i := len(u) - 1; i >= 0; i-- {
		v := (f.vy[i] - f.high*f.vh[i] - f.low*f.vl[i]) * f.inv[i]
		u[i] = v - f.gain[i]*r
		r = v + (1-f.gain[i])*r
		if c.start[i] {
			r = 0
		}
	}
	return u
}

// gains sums the squared effect of each random step on Σ wa x and Σ wb x: multiplied with the step's
// variance it is their covariance. It is split by high and low times.
func (c *chain) gains(wa, wb []float64) (high, low float64) {
	var ga, gb float64
	for i := len(wa) - 1; i >= 0; i-- {
		ga += wa[i]
		gb += wb[i]
		if c.start[i] {
			ga, gb = 0, 0
			continue
		}
		if c.n[i] == 1 || c.dl[i] > 0 {
			high += c.dh[i] * ga * gb
			low += c.dl[i] * ga * gb
		} else {
			high += ga * gb / c.n[i]
		}
	}
	return high, low
}

func kind(rise bool) int {
	if rise {
		return 1
	}
	return 0
}
