package stability

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
)

// Drift is how a pulse train's times follow a quantity (the time, a temperature), with the two kinds of noise told apart
// by maximum likelihood: a white one of each edge, and a random step of each period, shared out between its high and
// its low time by their lengths. Slopes are relative changes per unit of the quantity.
type Drift struct {
	Period      fit.Estimate // s, mean period, at the mean of the quantity
	Slope       fit.Estimate // of the period
	High, Low   fit.Estimate // slopes of the high and of the low time
	Correlation float64      // of those two
	White       fit.Estimate // s, standard deviation of the white noise of an edge
	Walk        fit.Estimate // s, standard deviation of the random step of a period
	Middle      float64      // mean of the quantity
	Range       float64      // by how much the quantity changed, from its least to its largest
	Rounded     float64      // how far the edges lie on the lattice of the sample interval: 1 is wholly, near 0 not at all
}

// ErrFewCycles says that a drift has too few cycles, or a quantity that does not change.
var ErrFewCycles = errors.New("a drift needs 8 cycles or more, over which the quantity changes")

const leastCycles = 8

// FitDrift fits the edges of a series of cycles (gaps of whole periods are bridged) with a high and a low time that are
// each mean × (1 + slope × z about its mean); z gives the quantity at a time in s. For drift over time z is the time
// itself. cell is the sample interval in s, to whose lattice edges may be rounded. Period holds without its count of
// cycles being known: gaps are counted in mean periods.
func FitDrift(s *fit.Series, z func(t float64) float64, cell float64) (Drift, error) {
	if len(s.Start) < leastCycles {
		return Drift{}, ErrFewCycles
	}
	k := newDriftChain(s, z)
	if k.spread == 0 {
		return Drift{}, ErrFewCycles
	}
	// The ratio of step to white variance is found on a grid and refined; the common scale has a closed form.
	best, at := math.Inf(-1), 0.0
	for l := k.least(); l <= largest; l += 2 {
		if v := k.fit(math.Exp(l)).log; v > best {
			best, at = v, l
		}
	}
	for h := 1.0; h > 1e-2; h /= 2 {
		for _, l := range [2]float64{at - h, at + h} {
			if l < k.least() || l > largest {
				continue
			}
			if v := k.fit(math.Exp(l)).log; v > best {
				best, at = v, l
			}
		}
	}
	d := k.result(at, best)
	d.round(s, cell)
	return d, nil
}

// largest is the logarithm of a ratio of step to white variance at which the white noise no longer shows.
const largest = 15

// least is the logarithm of a ratio at which the steps no longer show over the whole length.
func (c *driftChain) least() float64 {
	n := c.periods
	return math.Log(1 / (n * n))
}

// The unknowns of the fit, in nominal periods: by how much the mean high and low time differ from the nominal ones, and
// their slopes over the quantity, whose unit is its spread. The last column is the edges themselves.
const (
	meanHigh = iota
	meanLow
	slopeHigh
	slopeLow
	unknowns
	columns = unknowns + 1
)

// driftChain is the edges ready for the filter.
type driftChain struct {
	add     [][columns]float64 // what each edge adds to the one before: regressors, then the edge less nominal
	length  []float64          // and its length in nominal periods
	period  float64            // s, nominal
	high    float64            // nominal high time in periods
	middle  float64            // mean of the quantity over the cycles
	spread  float64            // standard deviation of the quantity over the periods
	extent  float64            // from its least to its largest
	periods float64            // from the first edge to the last
}

// newDriftChain lays out the edges: each cycle's rise and fall.
func newDriftChain(s *fit.Series, z func(t float64) float64) *driftChain {
	n := len(s.Start)
	high, low := Median(s.High), Median(s.Low)
	c := &driftChain{}
	gap := func(i int) float64 { return math.Max(math.Round((s.Start[i]-s.Start[i-1])/(high+low)), 1) }
	for i := 1; i < n; i++ {
		c.periods += gap(i)
	}
	c.period = (s.Start[n-1] - s.Start[0]) / c.periods
	c.high = high / c.period
	mean, least, largest := 0.0, math.Inf(1), math.Inf(-1)
	for i := range n {
		q := z(s.Start[i])
		mean += q / float64(n)
		least, largest = math.Min(least, q), math.Max(largest, q)
	}
	c.middle, c.extent = mean, largest-least
	at, before := s.Start[0], z(s.Start[0])-mean
	square, total := 0.0, 0.0
	edge := func(t, highs, lows float64) {
		q := z(t) - mean
		d := (before + q) / 2
		size := highs*c.high + lows*(1-c.high)
		c.add = append(c.add, [columns]float64{highs, lows, highs * d, lows * d, (t-at)/c.period - size})
		c.length = append(c.length, size)
		square, total = square+size*d*d, total+size
		at, before = t, q
	}
	for i := range n {
		if i > 0 {
			g := gap(i)
			edge(s.Start[i], g-1, g)
		}
		edge(s.Start[i]+s.High[i], 1, 0)
	}
	c.spread = math.Sqrt(square / total)
	if c.spread <= 1e-9*math.Abs(mean) || !(c.spread > 0) {
		c.spread = 0
		return c
	}
	for i := range c.add {
		c.add[i][slopeHigh] /= c.spread
		c.add[i][slopeLow] /= c.spread
	}
	return c
}

// driftFit is the answer for one ratio of the noises: white variance 1 times scale, step variance ratio times scale.
type driftFit struct {
	log, scale float64
	p          [unknowns]float64
	inverse    [unknowns][unknowns]float64 // of the information, to be multiplied with scale
}

// fit is a pass of the Kalman filter for the edge's true time, with regressors (generalised least squares).
func (c *driftChain) fit(ratio float64) driftFit {
	var a [columns][columns]float64 // Σ v v' / f, lower half
	var carry [columns]float64
	p, logf, product := 1.0, 0.0, 1.0 // of the variances; one logarithm for many of them
	for i := range c.add {
		p += ratio * c.length[i]
		f := p + 1
		g := p / f
		if product *= f; product > 1e100 {
			logf, product = logf+math.Log(product), 1
		}
		add := &c.add[i]
		for j := range carry {
			v := add[j] + carry[j]
			carry[j] = v
			v /= f
			for k := range j + 1 {
				a[j][k] += v * carry[k]
			}
		}
		for j := range carry {
			carry[j] *= 1 - g
		}
		p = g
	}
	logf += math.Log(product)
	var r driftFit
	logDet, ok := invert(&a, &r.inverse)
	if !ok {
		r.log = math.Inf(-1)
		return r
	}
	left := a[unknowns][unknowns]
	for i := range r.p {
		for k := range r.p {
			r.p[i] += r.inverse[i][k] * a[unknowns][k]
		}
		left -= r.p[i] * a[unknowns][i]
	}
	dof := c.freedom()
	r.scale = math.Max(left/dof, 1e-28)
	r.log = -0.5 * (dof*math.Log(r.scale) + logf + logDet)
	return r
}

func (c *driftChain) freedom() float64 { return float64(len(c.add) - unknowns) }

// invert inverts the unknowns' block of a, of which the lower half is given, and gives the logarithm of its determinant; not ok where
// they hang on each other.
func invert(a *[columns][columns]float64, out *[unknowns][unknowns]float64) (logDet float64, ok bool) {
	s := mat.NewSymDense(unknowns, nil)
	for i := range unknowns {
		for j := range i + 1 {
			s.SetSym(i, j, a[i][j])
		}
	}
	var root mat.Cholesky
	var inverse mat.SymDense
	if !root.Factorize(s) || root.InverseTo(&inverse) != nil {
		return 0, false
	}
	for i := range unknowns {
		for j := range unknowns {
			out[i][j] = inverse.At(i, j)
		}
	}
	return root.LogDet(), true
}

// mixture is the mean and the covariance of the unknowns over the ratios that the data allow.
type mixture struct {
	weight                     float64
	p                          [unknowns]float64
	pp                         [unknowns][unknowns]float64
	white, white2, walk, walk2 float64
}

func (m *mixture) take(f *driftFit, ratio, e float64) {
	m.weight += e
	for i := range f.p {
		m.p[i] += e * f.p[i]
		for k := range f.p {
			m.pp[i][k] += e * (f.inverse[i][k]*f.scale + f.p[i]*f.p[k])
		}
	}
	a, b := math.Sqrt(f.scale), math.Sqrt(f.scale*ratio)
	m.white, m.white2 = m.white+e*a, m.white2+e*a*a
	m.walk, m.walk2 = m.walk+e*b, m.walk2+e*b*b
}

// result states the fit, with uncertainties averaged over the ratios about the best one.
func (c *driftChain) result(at, best float64) Drift {
	var m mixture
	const step, least = 0.25, 1e-4
	for _, side := range [2]float64{-step, step} {
		for l := at + math.Max(side, 0); l >= c.least() && l <= largest; l += side {
			f := c.fit(math.Exp(l))
			e := math.Exp(f.log - best)
			if e < least {
				break
			}
			m.take(&f, math.Exp(l), e)
		}
	}
	return c.state(&m)
}

// state turns the unknowns into times and relative slopes.
func (c *driftChain) state(m *mixture) Drift {
	dof, w := c.freedom(), m.weight
	few := 1.0
	if dof > 2 {
		few = dof / (dof - 2) // Student's distribution is wider (JCGM 101, 6.4.9)
	}
	var p [unknowns]float64
	for i := range p {
		p[i] = m.p[i] / w
	}
	covariance := func(a, b [unknowns]float64) float64 {
		sum := 0.0
		for i := range a {
			for k := range b {
				sum += a[i] * b[k] * (m.pp[i][k]/w - p[i]*p[k])
			}
		}
		return few * sum
	}
	n := len(c.add) / 2
	of := func(value float64, a [unknowns]float64, scale float64) fit.Estimate {
		return fit.Estimate{Value: value * scale, Uncertainty: math.Sqrt(math.Max(covariance(a, a), 0)) * scale, Count: n}
	}
	high, low := c.high+p[meanHigh], 1-c.high+p[meanLow]
	unit := 1 / c.spread
	ah, al := [unknowns]float64{slopeHigh: 1 / high}, [unknowns]float64{slopeLow: 1 / low}
	d := Drift{
		Period: of(high+low, [unknowns]float64{meanHigh: 1, meanLow: 1}, c.period),
		Slope:  of((p[slopeHigh]+p[slopeLow])/(high+low), [unknowns]float64{slopeHigh: 1 / (high + low), slopeLow: 1 / (high + low)}, unit),
		High:   of(p[slopeHigh]/high, ah, unit),
		Low:    of(p[slopeLow]/low, al, unit),
		Middle: c.middle,
		Range:  c.extent,
	}
	if q := covariance(ah, ah) * covariance(al, al); q > 0 {
		d.Correlation = covariance(ah, al) / math.Sqrt(q)
	}
	// The scale itself has relative variance 2/dof, a standard deviation half of that.
	noise := func(sum, squares float64) fit.Estimate {
		mean := sum / w
		return fit.Estimate{Value: c.period * mean, Uncertainty: c.period * math.Sqrt(math.Max(squares/w-mean*mean, 0)+mean*mean/(2*dof)), Count: n}
	}
	d.White, d.Walk = noise(m.white, m.white2), noise(m.walk, m.walk2)
	return d
}

// round adds what edges that are rounded to a lattice of the sample interval can do to the slopes: the rounding follows
// the beat of period and lattice, a slow one looks like a drift. Of all patterns within half an interval the worst, the
// second Legendre polynomial over the record, bends the edges as a slope of 11.5 intervals over the square of the record
// would; the linear one tilts a time by 3 intervals over the record. Both are limits (JCGM 100 4.3.7).
func (d *Drift) round(s *fit.Series, cell float64) {
	n := len(s.Start)
	d.Rounded = rounded(s, cell)
	h := d.Rounded * cell
	length := s.Start[n-1] - s.Start[0]
	d.Slope.Uncertainty = math.Hypot(d.Slope.Uncertainty, 11.5/math.Sqrt(3)*h/(length*d.Range))
	tilt := 3 / math.Sqrt(3) * h / d.Range
	both := d.Correlation*d.High.Uncertainty*d.Low.Uncertainty - tilt/Median(s.High)*tilt/Median(s.Low)
	d.High.Uncertainty = math.Hypot(d.High.Uncertainty, tilt/Median(s.High))
	d.Low.Uncertainty = math.Hypot(d.Low.Uncertainty, tilt/Median(s.Low))
	if u := d.High.Uncertainty * d.Low.Uncertainty; u > 0 {
		d.Correlation = math.Max(both/u, -0.999999)
	}
}

// rounded is how far the rises and the falls of a series lie on one lattice: 1 where all are whole intervals apart, near
// 0 where they fall anywhere (the mean resultant length of their phases).
func rounded(s *fit.Series, cell float64) float64 {
	if !(cell > 0) {
		return 0
	}
	var x, y float64
	add := func(t float64) {
		sin, cos := math.Sincos(2 * math.Pi * math.Mod((t-s.Start[0])/cell, 1))
		x, y = x+cos, y+sin
	}
	for i, t := range s.Start {
		add(t)
		add(t + s.High[i])
	}
	return math.Hypot(x, y) / float64(2*len(s.Start))
}
