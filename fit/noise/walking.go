package noise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/cell"
)

// walkDraws are the looks that close in on a walk through cells.
var walkDraws = [...]int{48, 24, 24}

// steady fits the chain by cells; nil if that does not apply.
func (c *chain) steady(fl *floors) *steadyFit {
	e, lower, ok := c.edges(fl)
	if !ok {
		return nil
	}
	r := &steadyFit{still: inCells{log: math.Inf(-1)}, cycles: max(c.cycles, 1)}
	lo, hi := c.prior(fl)
	hides, limit := math.Log(steadyWalk*steadyWalk/r.cycles), 2*math.Log(mostWalk)
	least := c.leastWalk(fl, 0)
	if f := cell.Solve(&e, c.h0+c.l0, r.cycles); f != nil {
		r.still, r.fit = inCells{f.Log, f.High - c.h0, f.Period - f.High - c.l0, f.Row}, f
		least = math.Log(r.cycles * period(f.Row) / matters)
	}
	least = min(least, hides-1)
	r.walking(c, lower, least, max(hides, least), limit)
	prior := math.Log(part(steadyWhite, lo, hi))
	if fl.places { // where an edge lies within its cell says nothing of the train, but the other models foretell it, with this density
		for s, side := range e.Side {
			prior -= float64(len(side)) * math.Log(fl.width[s])
		}
	}
	prior += c.stillLog()
	r.still.log += prior
	r.walk.log += prior + math.Log((limit-least)/(hides-least))
	r.beyond.log += prior + c.walkLog() - c.stillLog() + math.Log((limit-least)/(hi-least))
	return r
}

// walking averages over the posterior of a walk seen through cells: its size, from exp(lo) to exp(hi), how it splits between high and low
// times, and the white noise. The box that closes in on it has their prior probabilities along its sides. Of the walks up to exp(hides)
// it gives the answer, of those beyond it the noise: they leave their cells so often that a linear fit, which does not hang on their
// steps being independent, is as good.
func (s *steadyFit) walking(c *chain, side []float64, lo, hides, hi float64) {
	b := box{hi: [3]float64{1, 1, 1}}
	var u [][3]float64
	var es []excess
	var all []inCells
	var logs []float64
	var f filter
	taken := 0
	for stage, draws := range walkDraws {
		if stage > 0 {
			b = b.shrink(u, logs, c.keep())
		}
		u, es, all, logs = u[:0], es[:0], all[:0], logs[:0]
		best := math.Inf(-1)
		for i := range draws {
			at := b.point(taken + i)
			part := 1 / (1 + math.Exp(-c.even()-splitSpread*distuv.UnitNormal.Quantile(at[1])))
			q, white := math.Exp(lo+(hi-lo)*at[0]), cell.White(at[2])
			e := excess{white * white, q * part, q * (1 - part)}
			a := c.propagate(side, e, best, &f)
			u, es, all, logs = append(u, at), append(es, e), append(all, a), append(logs, a.log)
			best = max(best, a.log)
		}
		taken += draws
	}
	beyond := slices.Clone(logs)
	for i, e := range es {
		if e.high+e.low > math.Exp(hides) {
			logs[i] = math.Inf(-1)
		} else {
			beyond[i] = math.Inf(-1)
		}
	}
	s.beyond = gather(es, beyond)
	s.beyond.log += b.share
	s.walk.log = floats.LogSumExp(logs)
	if math.IsInf(s.walk.log, -1) {
		return
	}
	for i, a := range all {
		w := math.Exp(logs[i] - s.walk.log)
		s.walk.high, s.walk.low = s.walk.high+w*a.high, s.walk.low+w*a.low
		s.steps.high, s.steps.low = s.steps.high+w*es[i].high, s.steps.low+w*es[i].low
	}
	for i, a := range all {
		s.walk.row = s.walk.row.Plus(a.row.Plus(squares(a.high-s.walk.high, a.low-s.walk.low)).Scale(math.Exp(logs[i] - s.walk.log)))
	}
	s.walk.log += b.share - math.Log(float64(len(logs)))
}
