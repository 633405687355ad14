package noise

import (
	"errors"
	"math"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// Result is what a train says. Times are in the unit of the edges.
type Result struct {
	High, Low  float64
	Rows       []budget.Row // unit of the edges squared
	White      float64      // standard deviation of the white noise of one edge beyond what was known
	Walk       float64      // probability that the periods have random steps, which add up
	WhiteAlone float64      // variance of the mean period, of all Rows, if they have none
	WithWalk   float64      // and if they have
	ByCells    float64      // share of the answer that rests on the edges' sample cells alone, not on interpolation
}

// Known is what the caller knows of the edges' errors.
type Known struct {
	Lattice cell.Lattice
	White   [2]float64 // variance of known white noise of a falling [0] and a rising [1] edge, unit of the edges squared
}

// The budget's names of the components that steady trains can have.
const (
	walkName    = "random-walk period noise"
	latticeName = "sample interval"
)

// ErrFew is returned for fewer than two whole cycles.
var ErrFew = errors.New("fewer than two whole cycles")

// Estimate fits the mean high and low time of a train.
func Estimate(t *train.Record, k Known) (*Result, error) {
	if t.Whole < 2 || t.Highs == 0 || t.Lows == 0 {
		return nil, ErrFew
	}
	r := &Result{}
	unit := k.Lattice.Cell
	if unit == 0 {
		h, l := nominal(t.Cycles, 1)
		unit = (h + l) / 1000
	}
	c := newChain(t.Cycles, 1/unit)
	fl := floors{known: [2]float64{k.White[0] / (unit * unit), k.White[1] / (unit * unit)}, lattice: k.Lattice.Variance(), width: k.Lattice.Width()}
	sample := newChain(t.Sample, 1/unit)
	var digest *chain
	if t.Digest != nil {
		digest = newChain(t.Digest, 1/unit)
	}
	var steady *steadyFit
	if k.Lattice.Cell > 0 {
		steady = c.steady(&fl)
	}
	still, walk := sample.searchStill(&fl, steady), sample.searchWalk(digest, &fl, steady)
	steadyStill, steadyWalk := math.Inf(-1), math.Inf(-1)
	if steady != nil {
		steadyStill, steadyWalk = steady.still, steady.walk
	}
	none := math.Inf(-1)
	o := newOdds(still.log, walk.log, steadyStill, steadyWalk)
	ways := c.ways(&fl, still.drawn, walk.drawn)
	if k.Lattice.Cell > 0 {
		c.lattice(&k.Lattice, &fl, ways, o)
	}
	given := func(o odds) answer { return mix(ways, o).blend(steady, o, c.h0, c.l0) }
	a := given(o)
	r.High, r.Low = (c.h0+a.high)*unit, (c.l0+a.low)*unit
	for _, row := range a.rows {
		r.Rows = append(r.Rows, row.Scale(unit*unit))
	}
	hidden := unshown(r.High, t.Highs, r.Low, t.Lows)
	r.Rows = append(r.Rows, hidden)
	r.ByCells = o.steadyStill + o.steadyWalk
	r.White = math.Sqrt(a.white) * unit
	r.Walk = o.walk + o.steadyWalk
	least := hidden.High + 2*hidden.Both + hidden.Low
	r.WhiteAlone = given(newOdds(still.log, none, steadyStill, none)).period()*unit*unit + least
	r.WithWalk = given(newOdds(none, walk.log, none, steadyWalk)).period()*unit*unit + least
	return r, nil
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
	still     bool         // without a walk
	share     float64      // probability of the noise, with or without a walk
	h, l      float64      // less nominal
	high, low []float64    // weights of the observations
	phase     []float64    // smoothed edge times
	local     float64      // and how far noise leaves them open
	rows      []budget.Row // of the noise, and of the lattice
}

// chance is the probability of the way's noise.
func (w *way) chance(o odds) float64 {
	if w.still {
		return o.still * w.share
	}
	return o.walk * w.share
}

// ways gives the answers under the noises drawn without a walk and with one.
func (c *chain) ways(fl *floors, still, walk []drawn) []way {
	ways := make([]way, len(still)+len(walk))
	filters := make([]filter, cores())
	share(len(ways), len(ways)*len(c.y), func(worker, j int) {
		alone := j < len(still)
		d := drawn{}
		if alone {
			d = still[j]
		} else {
			d = walk[j-len(still)]
		}
		ways[j] = c.way(fl, d.excess, &filters[worker])
		ways[j].still, ways[j].share = alone, d.share
	})
	return ways
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

// normal is the quantile of the standard normal distribution.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
