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
	ByCells    float64   // share of the answer that rests on the edges' sample cells alone, not on interpolation
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

// walkName is the budget's name of the component that steady trains can still have.
const walkName = "random-walk period noise"

// ErrFew is returned for fewer than two whole cycles.
var ErrFew = errors.New("fewer than two whole cycles")

const (
	harmonicWork = 1 << 18 // edges times harmonics
	maxHarmonics = 64
	phaseRounds  = 3
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
		if k.Lattice.Cell > 0 {
			fl.width[i] = math.Sqrt(12 * rampVariance(duration(k.Lattice.Sharpness[i])))
		}
	}
	noiseChain := c
	if s.fine != nil {
		noiseChain = newChain(s.fine, 1/unit)
	}
	var steady *steadyFit
	if k.Lattice.Cell > 0 {
		steady = c.steady(&fl)
	}
	found := noiseChain.search(&fl, steady)
	c.average(r, &fl, &k.Lattice, found.drawn, unit)
	e := found.mean
	if steady != nil {
		share := steady.share(&found)
		r.ByCells = share
		steady.blend(r, share, unit)
		e.white, e.high, e.low = e.white*(1-share), e.high*(1-share), e.low*(1-share)
	}
	r.Rows = append(r.Rows, unshown(r.High, r.Highs, r.Low, r.Lows))
	r.White = math.Sqrt(e.white) * unit
	r.RandomWalk = math.Sqrt(e.high+e.low) * unit
	r.HighStep, r.LowStep = math.Sqrt(e.high)*unit, math.Sqrt(e.low)*unit
	return r, nil
}

// average takes the mean of the answers under each noise that the train may have, and their budget: rows, of the mean
// of their covariances, and what the answers differ.
func (c *chain) average(r *Result, fl *floors, l *Lattice, drawn []excess, unit float64) {
	ways := make([]way, len(drawn))
	filters := make([]filter, cores())
	share(len(drawn), len(drawn)*len(c.y), func(worker, j int) { ways[j] = c.way(fl, drawn[j], &filters[worker]) })
	n := float64(len(drawn))
	for _, w := range ways {
		r.High += w.h / n
		r.Low += w.l / n
	}
	for i := range ways[0].rows {
		row := ways[0].rows[i].Scale(0)
		for _, w := range ways {
			row = row.Plus(w.rows[i].Scale(1 / n))
			if row.Name == walkName { // the answers differ by how much walk they suppose
				dh, dl := w.h-r.High, w.l-r.Low
				row = row.Plus(budget.Row{High: dh * dh / n, Both: dh * dl / n, Low: dl * dl / n})
			}
		}
		r.Rows = append(r.Rows, row.Scale(unit*unit))
	}
	r.High, r.Low = (c.h0+r.High)*unit, (c.l0+r.Low)*unit
	if l.Cell > 0 {
		row := c.lattice(l, fl, ways)
		r.Rows = append(r.Rows, row.Scale(unit*unit))
	}
}

// usualJitter is the relative random step of an interval that is supposed of a circuit of this kind until its cycles
// show otherwise (common practice: some parts in ten thousand).
const usualJitter = 2e-4

// unshown is the component of period noise that so few intervals could hide: two or three may agree by chance to the last
// digit, and then nothing in the record tells how far they scatter. It fades with the fourth power of the degrees of freedom.
func unshown(high float64, highs int, low float64, lows int) budget.Row {
	freedom := max(float64(highs+lows-2), 0)
	if lows == 0 {
		freedom = float64(highs - 1)
	}
	left := usualJitter * usualJitter / (1 + math.Pow(freedom/2, 4))
	return budget.Row{Name: "noise that so few cycles may hide", Kind: "B", Distribution: "normal",
		High: left * high * high / float64(highs), Low: left * low * low / max(float64(lows), 1)}
}

// way is the answer under one noise that the train may have.
type way struct {
	excess
	h, l      float64      // less nominal
	high, low []float64    // weights of the observations
	phase     []float64    // smoothed edge times
	local     float64      // and how far noise leaves them open
	rows      []budget.Row // of the noise
}

func (c *chain) way(fl *floors, e excess, f *filter) way {
	f.keep = true
	nz := fl.noise(e)
	c.run(&nz, f)
	w := way{excess: e, h: f.high, l: f.low}
	w.high, w.low = c.weights(f)
	w.phase, w.local = c.path(&nz, f)
	w.rows = c.budget(fl, e, w.high, w.low)
	return w
}

// budget gives the components of two estimates Σ wh x and Σ wl x that come from noise.
func (c *chain) budget(fl *floors, e excess, wh, wl []float64) []budget.Row {
	known := budget.Row{Name: "edge noise known from the levels", Kind: "B", Distribution: "normal"}
	white := budget.Row{Name: "white edge noise", Kind: "A", Distribution: "normal"}
	walk := budget.Row{Name: walkName, Kind: "A", Distribution: "normal"}
	for i := range wh {
		hh, hl, ll := wh[i]*wh[i]/c.n[i], wh[i]*wl[i]/c.n[i], wl[i]*wl[i]/c.n[i]
		k := fl.known[kind(c.rise[i])]
		known.High, known.Both, known.Low = known.High+k*hh, known.Both+k*hl, known.Low+k*ll
		white.High, white.Both, white.Low = white.High+e.white*hh, white.Both+e.white*hl, white.Low+e.white*ll
	}
	inHigh, inLow := c.gains(wh, wh)
	walk.High = inHigh*e.high + inLow*e.low
	inHigh, inLow = c.gains(wh, wl)
	walk.Both = inHigh*e.high + inLow*e.low
	inHigh, inLow = c.gains(wl, wl)
	walk.Low = inHigh*e.high + inLow*e.low
	return []budget.Row{known, white, walk}
}

// lattice is the component that the sample lattice gives. Where the edges fall between the samples follows
// from the fitted times, which are themselves uncertain, and from the noise: the sum is averaged over
// both, and the former includes the answer.
func (c *chain) lattice(l *Lattice, fl *floors, ways []way) budget.Row {
	n := len(c.y)
	count := min(maxHarmonics, max(4, harmonicWork/n))
	terms, rest := l.harmonics(count)
	high, low := c.counts()
	moves := make([][]float64, cores())
	parts := make([]budget.Row, len(ways))
	// Start from no averaging at all: the iteration then closes in on the answer from above.
	one := l.variance()[0] + l.variance()[1]
	now := budget.Row{Name: "sample interval", Kind: "B", Distribution: "rectangular",
		High: one, Both: -one, Low: one + one/(c.cycles*c.cycles)}
	for range phaseRounds {
		share(len(ways), len(ways)*n, func(worker, j int) {
			w := &ways[j]
			spread := w.white + w.local
			jitter := [2]float64{fl.known[0] + spread, fl.known[1] + spread}
			hh, both, ll := budget.Sum(append(w.rows[:len(w.rows):len(w.rows)], now))
			// Cholesky factor of the covariance of high and low.
			a := math.Sqrt(hh)
			b := both / a
			d := math.Sqrt(max(ll-b*b, 0))
			z := halton(j + 1)
			eh, el := a*normal(z[0]), b*normal(z[0])+d*normal(z[1])
			if j%2 == 1 { // an exactly commensurate period is as likely as one nearly so
				el = -eh
			}
			moved := resize(moves[worker], n)
			moves[worker] = moved
			for i := range moved {
				moved[i] = w.phase[i] + high[i]*eh + low[i]*el
			}
			part := &parts[j]
			part.High, part.Both, part.Low = c.sums(l, w.high, w.low, moved, jitter, terms, rest)
		})
		sum := now
		sum.High, sum.Both, sum.Low = 0, 0, 0
		for _, part := range parts {
			sum.High, sum.Both, sum.Low = sum.High+part.High, sum.Both+part.Both, sum.Low+part.Low
		}
		now = sum.Scale(1 / float64(len(ways)))
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
