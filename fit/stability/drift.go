package stability

import (
	"errors"
	"math"
	"slices"

	"offbeat/fit"
)

// Drift is how a period follows a quantity (the time, a temperature), with the two kinds of noise told apart by
// maximum likelihood: a white one of each edge, and a random step of each period.
type Drift struct {
	Period fit.Estimate // s, mean period, at the mean of the quantity
	Slope  fit.Estimate // relative change of the period per unit of the quantity
	White  fit.Estimate // s, standard deviation of the white noise of an edge
	Walk   fit.Estimate // s, standard deviation of the random step of a period
}

// ErrFewCycles says that a drift has too few cycles, or a quantity that does not change.
var ErrFewCycles = errors.New("a drift needs 8 cycles or more, over which the quantity changes")

const leastCycles = 8

// FitDrift fits the edge times start (s, in order; gaps of whole periods are bridged) with a period that is mean × (1 + slope × z
// about its mean); z has one value for each edge. For drift over time z is start itself. Period holds without its
// count of cycles being known: gaps are counted in mean periods.
func FitDrift(start, z []float64) (Drift, error) {
	n := len(start)
	if n < leastCycles || len(z) != n {
		return Drift{}, ErrFewCycles
	}
	k := newDriftChain(start, z)
	if tiny := 1e-12 * k.mean; !(k.spread > float64(n)*tiny*tiny) {
		return Drift{}, ErrFewCycles
	}
	// The ratio of step to white variance is found on a grid and refined; the common scale has a closed form.
	best, at := math.Inf(-1), 0.0
	for l := k.least(); l <= largest; l += 0.5 {
		if v := k.fit(math.Exp(l)).log; v > best {
			best, at = v, l
		}
	}
	for h := 0.25; h > 1e-4; h /= 2 {
		for _, l := range [2]float64{at - h, at + h} {
			if v := k.fit(math.Exp(l)).log; v > best {
				best, at = v, l
			}
		}
	}
	return k.result(at, best), nil
}

// largest is the logarithm of a ratio of step to white variance at which the white noise no longer shows.
const largest = 15

// least is the logarithm of a ratio at which the steps no longer show over the whole length.
func (c *driftChain) least() float64 {
	n := float64(len(c.y))
	return math.Log(0.01 / (n * n))
}

// driftChain is the edges ready for the filter; times in nominal periods.
type driftChain struct {
	y      []float64 // edge time less nominal
	count  []float64 // periods since the edge before
	push   []float64 // and the same weighted with z about its mean
	period float64   // s, nominal
	mean   float64   // of z over the periods
	spread float64   // sum of the squares of z about it
}

func newDriftChain(start, z []float64) *driftChain {
	n := len(start)
	gaps := make([]float64, n-1)
	for i := range gaps {
		gaps[i] = start[i+1] - start[i]
	}
	nominal := median(gaps)
	whole, total := make([]float64, n), 0.0
	for i := 1; i < n; i++ {
		whole[i] = max(math.Round(gaps[i-1]/nominal), 1)
		total += whole[i]
	}
	period := (start[n-1] - start[0]) / total
	mean := 0.0
	for i := 1; i < n; i++ {
		mean += whole[i] * (z[i-1] + z[i]) / 2 / total
	}
	c := &driftChain{period: period, mean: mean, y: make([]float64, n), count: whole, push: make([]float64, n)}
	for i := 1; i < n; i++ {
		d := (z[i-1]+z[i])/2 - mean
		c.push[i] = whole[i] * d
		c.spread += whole[i] * d * d
		c.y[i] = c.y[i-1] + (start[i]-start[i-1])/period - whole[i]
	}
	return c
}

// median of the values, which are not changed.
func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// driftFit is the answer for one ratio of the noises: white variance 1 times scale, step variance ratio times scale.
type driftFit struct {
	log, scale    float64
	period, slope float64
	pp, ps, ss    float64 // inverse information, to be multiplied with scale
}

// fit is a pass of the Kalman filter for the edge's true time, with two regressors (generalised least squares).
func (c *driftChain) fit(ratio float64) driftFit {
	var ay, ap, as, logf, yy, py, sy, pp, ps, ss float64
	p := 1.0
	for i := 1; i < len(c.y); i++ {
		p += ratio * c.count[i]
		f := p + 1
		g := p / f
		vy, vp, vs := c.y[i]-ay, c.count[i]-ap, c.push[i]-as
		logf += math.Log(f)
		yy += vy * vy / f
		py += vp * vy / f
		sy += vs * vy / f
		pp += vp * vp / f
		ps += vp * vs / f
		ss += vs * vs / f
		ay += g * vy
		ap, as = -(1-g)*vp, -(1-g)*vs
		p = g
	}
	det := pp*ss - ps*ps
	r := driftFit{pp: ss / det, ps: -ps / det, ss: pp / det}
	r.period, r.slope = r.pp*py+r.ps*sy, r.ps*py+r.ss*sy
	dof := float64(len(c.y) - 3)
	r.scale = (yy - r.period*py - r.slope*sy) / dof
	r.log = -0.5 * (dof*math.Log(r.scale) + logf + math.Log(det))
	return r
}

// result states the fit, with uncertainties averaged over the ratios that the data allow.
func (c *driftChain) result(at, best float64) Drift {
	var w, period, slope, pv, sv float64
	var white, walk, white2, walk2 float64
	for l := c.least(); l <= largest; l += 0.25 {
		f := c.fit(math.Exp(l))
		e := math.Exp(f.log - best)
		if e < 1e-4 {
			continue
		}
		w += e
		period += e * f.period
		slope += e * f.slope
		pv += e * (f.pp*f.scale + f.period*f.period)
		sv += e * (f.ss*f.scale + f.slope*f.slope)
		a, b := math.Sqrt(f.scale), math.Sqrt(f.scale*math.Exp(l))
		white, white2 = white+e*a, white2+e*a*a
		walk, walk2 = walk+e*b, walk2+e*b*b
	}
	// The scale itself has relative variance 2/dof, a standard deviation half of that.
	dof := float64(len(c.y) - 3)
	spread := func(m, square float64) float64 { return math.Sqrt(max(square-m*m, 0) + m*m/(2*dof)) }
	few := 1.0
	if dof > 2 {
		few = dof / (dof - 2) // Student's distribution is wider (JCGM 101, 6.4.9)
	}
	n := len(c.y) - 1
	period, slope = period/w, slope/w
	return Drift{
		Period: fit.Estimate{Value: c.period * (1 + period), Uncertainty: c.period * math.Sqrt(few*max(pv/w-period*period, 0)), Count: n},
		Slope:  fit.Estimate{Value: slope / (1 + period), Uncertainty: math.Sqrt(few * max(sv/w-slope*slope, 0)), Count: n},
		White:  fit.Estimate{Value: c.period * white / w, Uncertainty: c.period * spread(white/w, white2/w), Count: n},
		Walk:   fit.Estimate{Value: c.period * walk / w, Uncertainty: c.period * spread(walk/w, walk2/w), Count: n},
	}
}
