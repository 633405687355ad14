package interval

import (
	"errors"
	"math"

	"offbeat/fit/budget"
)

// Result is what a train says. Times are in the unit of the edges.
type Result struct {
	High, Low  float64
	Rows       []budget.Row // unit of the edges squared
	Highs      int          // whole high pulses
	Lows       int
	Cycles     int
	White      float64 // standard deviation of the white noise of one edge beyond what was known
	RandomWalk float64 // standard deviation of the random step of one period
	HighStep   float64 // the part of it in the high time
	LowStep    float64
	Start      []float64 // series of single cycles: rising edge, high time, low time
	SeriesHigh []float64
	SeriesLow  []float64
	Every      int
}

// Known is what the caller knows of the edges' errors.
type Known struct {
	Lattice Lattice
	White   [2]float64 // variance of known white noise of a falling [0] and a rising [1] edge, unit of the edges squared
}

// ErrFew is returned for fewer than two whole cycles.
var ErrFew = errors.New("fewer than two whole cycles")

const (
	harmonicWork = 1 << 18 // edges times harmonics
	maxHarmonics = 64
	phaseDraws   = 12
	phaseRounds  = 2
)

// Estimate fits the mean high and low time of the train.
func (t *Train) Estimate(k Known) (*Result, error) {
	s := &t.store
	r := &Result{Highs: s.whole[1], Lows: s.whole[0], Cycles: s.cycle2,
		Start: s.series.start, SeriesHigh: s.series.high, SeriesLow: s.series.low, Every: max(s.series.every, 1)}
	if r.Cycles < 2 || r.Highs == 0 || r.Lows == 0 {
		return r, ErrFew
	}
	unit := k.Lattice.Cell
	if unit == 0 {
		h, l := nominal(s.cycles, 1)
		unit = (h + l) / 1000
	}
	c := newChain(s.cycles, 1/unit)
	fl := floors{lattice: k.Lattice.variance()}
	for i := range fl.known {
		fl.known[i] = k.White[i] / (unit * unit)
	}
	noiseChain := c
	if s.fine != nil {
		noiseChain = newChain(s.fine, 1/unit)
	}
	e := noiseChain.search(&fl)
	nz := fl.noise(e)
	f := filter{keep: true}
	c.run(&nz, &f)
	wh, wl := c.weights(&f)
	r.High, r.Low = (c.h0+f.high)*unit, (c.l0+f.low)*unit
	u2 := unit * unit
	add := func(name, kind, dist string, hh, hl, ll float64) {
		row := budget.Row{Name: name, Kind: kind, Distribution: dist, High: hh, Low: ll, Both: hl}
		r.Rows = append(r.Rows, row.Scale(u2))
	}
	var known, white [3]float64
	for i := range wh {
		for j, p := range [3]float64{wh[i] * wh[i], wh[i] * wl[i], wl[i] * wl[i]} {
			p /= c.n[i]
			known[j] += fl.known[kind(c.rise[i])] * p
			white[j] += e.white * p
		}
	}
	hh1, hh2 := c.gains(wh, wh)
	hl1, hl2 := c.gains(wh, wl)
	ll1, ll2 := c.gains(wl, wl)
	walk := [3]float64{hh1*e.high + hh2*e.low, hl1*e.high + hl2*e.low, ll1*e.high + ll2*e.low}
	add("edge noise known from the levels", "B", "normal", known[0], known[1], known[2])
	add("white edge noise", "A", "normal", white[0], white[1], white[2])
	add("random-walk period noise", "A", "normal", walk[0], walk[1], walk[2])
	if k.Lattice.Cell > 0 {
		var jitter [2]float64
		for i := range jitter {
			jitter[i] = fl.known[i] + e.white
		}
		var rest [3]float64
		for j := range rest {
			rest[j] = known[j] + white[j] + walk[j]
		}
		l := c.lattice(&k.Lattice, &f, &nz, wh, wl, jitter, rest)
		add("sample interval", "B", "rectangular", l[0], l[1], l[2])
	}
	r.White = math.Sqrt(e.white) * unit
	r.RandomWalk = math.Sqrt(e.high+e.low) * unit
	r.HighStep, r.LowStep = math.Sqrt(e.high)*unit, math.Sqrt(e.low)*unit
	return r, nil
}

// lattice is the variance of the high time, the covariance, and the variance of the low time that the sample
// lattice gives, in cells². Where the edges fall between the samples follows from the fitted times, which are
// themselves uncertain: the sum is averaged over that uncertainty, which includes the answer.
func (c *chain) lattice(l *Lattice, f *filter, nz *noise, wh, wl []float64, jitter [2]float64, other [3]float64) [3]float64 {
	n := len(c.y)
	count := min(maxHarmonics, max(4, harmonicWork/n))
	terms, rest := l.harmonics(count)
	phase := c.path(nz, f)
	moved := make([]float64, n)
	v := l.variance()
	var now [3]float64
	for i := range wh { // first guess: as if white
		k := v[kind(c.rise[i])] / c.n[i]
		now[0] += k * wh[i] * wh[i]
		now[1] += k * wh[i] * wl[i]
		now[2] += k * wl[i] * wl[i]
	}
	high, low := c.counts()
	for range phaseRounds {
		// Cholesky factor of the covariance of high and low.
		a := math.Sqrt(now[0] + other[0])
		b := 0.0
		if a > 0 {
			b = (now[1] + other[1]) / a
		}
		d := math.Sqrt(max(now[2]+other[2]-b*b, 0))
		var sum [3]float64
		for j := range phaseDraws {
			h := halton(j + 1)
			z1, z2 := normal(h[0]), normal(h[1])
			eh, el := a*z1, b*z1+d*z2
			for i := range moved {
				moved[i] = phase[i] + high[i]*eh + low[i]*el
			}
			aa, ab, bb := c.sums(l, wh, wl, moved, jitter, terms, rest)
			sum[0] += aa
			sum[1] += ab
			sum[2] += bb
		}
		for j := range sum {
			now[j] = sum[j] / phaseDraws
		}
	}
	return now
}

// counts is the number of high and low times from the middle of its run to each observation.
func (c *chain) counts() (high, low []float64) {
	n := len(c.y)
	high, low = make([]float64, n), make([]float64, n)
	from := 0
	centre := func(to int) {
		mh, ml := (high[from]+high[to-1])/2, (low[from]+low[to-1])/2
		for i := from; i < to; i++ {
			high[i] -= mh
			low[i] -= ml
		}
	}
	for i := 1; i < n; i++ {
		if c.start[i] {
			centre(i)
			from = i
			continue
		}
		high[i], low[i] = high[i-1]+c.dh[i], low[i-1]+c.dl[i]
	}
	centre(n)
	return high, low
}

// normal is the quantile of the standard normal distribution.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
