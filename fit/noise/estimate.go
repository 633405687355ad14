package noise

import (
	"errors"
	"math"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
	"offbeat/fit/workers"
)

// Result is what a train says. Times are in the unit of the edges.
type Result struct {
	High, Low  float64
	Rows       []budget.Row // unit of the edges squared
	White      float64      // standard deviation of the white noise of one edge beyond what was known
	Step       float64      // and that of the random step of one period
	Walk       float64      // probability that the periods have random steps, which add up
	WhiteAlone float64      // variance of the mean period, of all Rows, if they have none
	WithWalk   float64      // and if they have
	ByCells    float64      // share of the answer that rests on the edges' sample cells alone, not on interpolation
	Slow       fit.Slow
}

// Known is what the caller knows of the edges' errors.
type Known struct {
	Lattice  cell.Lattice
	White    [2]float64       // variance of known white noise of a falling [0] and a rising [1] edge, unit of the edges squared
	Rounding acquire.Rounding // of a list
	Second   float64          // one second in the unit of the edges; 0: not known, then no hum is looked for
}

// ErrFew is returned for fewer than two whole cycles.
var ErrFew = errors.New("fewer than two whole cycles")

// Estimate fits the mean high and low time of a train.
func Estimate(t *train.Record, k Known) (*Result, error) {
	if t.Whole < 2 || t.Highs == 0 || t.Lows == 0 {
		return nil, ErrFew
	}
	cycles, sample, digest := through(t.Cycles, k.Lattice.Cell), through(t.Sample, k.Lattice.Cell), t.Digest
	if own := unpacked(cycles, sample, &k.Lattice); own != nil {
		cycles, sample, digest = own, own, nil
	}
	unit := k.Lattice.Cell
	if unit == 0 {
		h, l := nominal(cycles, 1)
		unit = (h + l) / 1000
	}
	area := unit * unit
	m := &model{lattice: &k.Lattice, rounding: k.Rounding, c: newChain(cycles, 1/unit), sample: newChain(sample, 1/unit)}
	if k.Lattice.Places && m.c.creeping() {
		for i, steep := range k.Lattice.Steep {
			if steep {
				k.Lattice.Sharpness[i] = 1 // what the few places on its slopes show of an edge is no mean over its cell
			}
		}
	}
	m.fl = floors{known: [2]float64{k.White[0] / area, k.White[1] / area}, lattice: k.Lattice.Variance(), width: k.Lattice.Width(), places: k.Lattice.Places}
	if digest != nil {
		m.digest = newChain(digest, 1/unit)
	}
	m.lines = m.c.mains(k.Second / unit)
	m.fit()
	r := &Result{}
	h := m.hum(k.Second/unit, &r.Slow)
	m.spread()
	o, alone, walking := newOdds(m.ways, m.steady, true, true), newOdds(m.ways, m.steady, true, false), newOdds(m.ways, m.steady, false, true)
	if max(o.steady(), alone.steady(), walking.steady()) > unlikely {
		m.steady.hide(m.lines)
	}
	given := func(o odds) answer { return mix(m.ways, &o).blend(m.steady, &o) }
	a := given(o)
	if m.rounding == acquire.OfPulses && m.lattice.Cell > 0 {
		m.pulses(&a)
	}
	r.High, r.Low = (m.c.h0+a.high)*unit, (m.c.l0+a.low)*unit
	for _, row := range a.rows {
		r.Rows = append(r.Rows, row.Scale(area))
	}
	slow, kinds := m.slow(&o, period(a.rows...), &r.Slow)
	allan := m.allan(&t.Series, unit, h, func(n float64) float64 { return a.allan(n, m.fl.known, kinds, m.c.cycles) })
	rest := []budget.Row{unshown(r.High, t.Highs, r.Low, t.Lows)}
	hh, hl, ll := budget.Sum(append([]budget.Row{slow, allan}, a.rows...))
	ofHigh, ofLow := m.c.l0/(m.c.h0+m.c.l0), m.c.h0/(m.c.h0+m.c.l0)
	shares := m.shares(&t.Series, unit, h, ofHigh*ofHigh*hh-2*ofHigh*ofLow*hl+ofLow*ofLow*ll)
	for _, row := range []budget.Row{slow, allan, shares} {
		if row.High > 0 {
			rest = append(rest, row.Scale(area))
		}
	}
	r.Rows = append(r.Rows, rest...)
	r.ByCells = o.steady()
	r.White, r.Step = math.Sqrt(a.white)*unit, math.Sqrt(a.step)*unit
	r.Walk = o.steadyWalk
	for i, w := range m.ways {
		if w.walks {
			r.Walk += o.ways[i]
		}
	}
	r.WhiteAlone = period(given(alone).rows...)*area + period(rest...)
	r.WithWalk = period(given(walking).rows...)*area + period(rest...)
	return r, nil
}

// fit averages the noise over its posterior, under each hypothesis.
func (m *model) fit() {
	m.steady = nil
	if m.lattice.Cell > 0 {
		m.steady = m.c.steady(&m.fl)
	}
	less, more := m.sample.searchWalk(m.digest, &m.fl, m.steady)
	all := []found{m.sample.searchStill(&m.fl, m.steady), less, more}
	if m.steady != nil && !math.IsInf(m.steady.beyond.log, -1) {
		all = append(all, m.steady.beyond)
	}
	m.ways = m.c.ways(&m.fl, all)
	if r, ok := roundings[m.rounding]; ok && m.lattice.Cell > 0 {
		fl := r.own()
		less, more := m.sample.searchWalk(m.digest, &fl, nil)
		m.oneByOne(&r, m.c.ways(&fl, []found{m.sample.searchStill(&fl, nil), less, more}))
	}
}

// hum looks for a line of the mains, and fits all again without it; second is that many units of the chain, 0 not known.
func (m *model) hum(second float64, s *fit.Slow) *hum {
	if second == 0 {
		return nil
	}
	s.HumUnseen = m.c.span() < humPeriods/mains[0]*second
	nz := m.fl.noise(m.likeliest())
	h := m.c.findHum(&nz, &m.fl, second)
	if h == nil {
		return nil
	}
	from := h.frequency
	for range 2 {
		m.c.clean(h)
		m.c.regress(&nz, h)
		h.frequency = min(max(h.frequency, from*(1-mainsLimit)), from*(1+mainsLimit))
		for _, c := range []*chain{m.c, m.sample, m.digest} {
			c.clean(h)
		}
		m.fit()
		nz = m.fl.noise(m.likeliest())
	}
	workers.Each(len(m.ways), cores(), func(_, i int) {
		w, own := &m.ways[i], *h
		nz := w.fl.noise(w.excess)
		m.c.regress(&nz, &own) // for its covariance under this noise
		own.late, own.frequency = h.late, h.frequency
		w.rows = append(w.rows, own.row(m.c, w.high, w.low))
		own.join(m.c, &nz, w)
	})
	s.Hum, s.Swing = h.frequency*second, h.swing()
	return h
}

// likeliest is the noise of the likeliest way.
func (m *model) likeliest() excess {
	best := &m.ways[0]
	for i := range m.ways {
		if w := &m.ways[i]; w.log > best.log {
			best = w
		}
	}
	return best.excess
}

// spread adds what the sample lattice leaves open.
func (m *model) spread() {
	if m.lattice.Cell > 0 {
		m.c.lattice(m.lattice, &m.fl, m.ways)
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

// ways gives the answer under each hypothesis.
func (c *chain) ways(fl *floors, of []found) []way {
	ways := make([]way, len(of))
	workers.Each(len(ways), cores(), func(_, j int) {
		f, w := filter{keep: true}, &ways[j]
		nz := fl.noise(of[j].excess)
		c.run(&nz, &f)
		w.found, w.fl, w.walks, w.h, w.l = of[j], *fl, of[j].high+of[j].low > 0, f.high, f.low
		w.high, w.low = c.weights(&f)
		w.phase, w.local = c.path(&nz, &f)
		w.rows = c.budget(fl, w.excess, w.high, w.low)
	})
	return ways
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
	steps := func(a, b []float64) float64 {
		high, low := c.gains(a, b)
		return high*e.high + low*e.low
	}
	walk.High, walk.Both, walk.Low = steps(wh, wh), steps(wh, wl), steps(wl, wl)
	e.high, e.low = fl.steps[0], fl.steps[1]
	known = known.Plus(budget.Row{High: steps(wh, wh), Both: steps(wh, wl), Low: steps(wl, wl)})
	return []budget.Row{known, white, walk}
}
