package cell

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/budget"
)

const (
	softest    = 0.03 // white noise, in cells, below which the evidence along a bend says too much of what goes unseen beside noise
	slowLeast  = 1e-6 // relative change of the period over the record, of the slow bends that are looked at
	slowMost   = 3e-3
	humLeast   = 1e-5 // relative swing of the period, of the lines that are looked at
	humMost    = 1e-2
	bendRatio  = 2.0 // of the sizes that the evidence is computed for
	bendReach  = 4.0 // standard deviations, of the sizes that are averaged over,
	bendStep   = 0.25
	broadest   = 1.0  // cells, of a bend that the cells may hide
	supposed   = 0.25 // prior probability of slow bends, and of each line
	linePhases = 4
	bendSizes  = 24
	mostEdges  = 256   // of either kind, that bends are looked for in
	beyond     = 300.0 // nats, that evidence differs by at most: all there is of it
)

// stray is one size, in cells rms, of a way that edges may stray from the straight line: the log of its evidence over that of none, and by
// how much the mean high time and the period then differ.
type stray struct{ size, log, high, period float64 }

// bend is such a way, by size.
type bend []stray

// The evidence of a steady train along the ways in which its edges may stray from a straight line and stay in their cells: a train
// that creeps through them shows next to nothing of it. They are Legendre polynomials of degree 2 to 4, and sines of lines.

// look lays out a bend of the shape given, x from 0 to 1 over the record, to sizes of reach.
type look func(shape func(x float64) float64, reach float64) bend

// along lays out the evidence at a white noise of so many cells at least.
func (f *Fit) along(least float64) look {
	p, sigma := f.of, max(f.White, least)
	still := f.at(sigma)
	first, last := p.span()
	return func(shape func(x float64) float64, reach float64) bend {
		b := bend{{}}
		for _, sign := range [2]float64{-1, 1} {
			for d := sigma + 0.5/p.cycles; ; d *= bendRatio {
				size := sign * d
				l, h, t := p.bent(func(k float64) float64 { return size * shape((k-first)/(last-first)) }, sigma, f.start, f.room)
				b = append(b, stray{size, min(max(l-still.log, -beyond), beyond), h - still.high, t - still.period})
				if d*bendRatio >= reach || l-still.log < -deepest {
					break
				}
			}
		}
		slices.SortFunc(b, func(x, y stray) int { return cmp.Compare(x.size, y.size) })
		return b
	}
}

// slow are the bends of a walk or a drift.
func slow(along look, reach float64) []bend {
	var all []bend
	for degree := 2; degree <= 4; degree++ {
		all = append(all, along(func(x float64) float64 { return legendre(degree, x) }, reach))
	}
	return all
}

// strayed is what bends of a normal distribution, or of several, change: the log of their evidence over that of none, and the mean and
// the second moments of the change of high time and period.
type strayed struct{ log, high, period, highs, both, periods float64 }

// of averages over sizes of variance v about none.
func (b bend) of(v float64) (s strayed) {
	sd, sum := math.Sqrt(v), 0.0
	weights := 0.0
	k := 0
	for z := -bendReach; z <= bendReach; z += bendStep {
		x := z * sd
		for k < len(b)-2 && x > b[k+1].size {
			k++
		}
		w := math.Exp(-z * z / 2)
		weights += w
		from, to := b[k], b[k+1]
		at := (min(max(x, b[0].size), b[len(b)-1].size) - from.size) / (to.size - from.size)
		w *= math.Exp(from.log + at*(to.log-from.log))
		h, t := from.high+at*(to.high-from.high), from.period+at*(to.period-from.period)
		sum += w
		s.high, s.period = s.high+w*h, s.period+w*t
		s.highs, s.both, s.periods = s.highs+w*h*h, s.both+w*h*t, s.periods+w*t*t
	}
	s = s.times(1 / sum)
	s.log = math.Log(sum / weights)
	return s
}

func (s strayed) times(k float64) strayed {
	return strayed{s.log, k * s.high, k * s.period, k * s.highs, k * s.both, k * s.periods}
}

// plus adds second moments, which are all that is asked of a sum.
func (s strayed) plus(o strayed) strayed {
	return strayed{highs: s.highs + o.highs, both: s.both + o.both, periods: s.periods + o.periods}
}

// and is both of two that do not hang on each other.
func (s strayed) and(o strayed) strayed {
	return strayed{s.log + o.log, s.high + o.high, s.period + o.period, s.highs + o.highs + 2*s.high*o.high,
		s.both + o.both + s.high*o.period + o.high*s.period, s.periods + o.periods + 2*s.period*o.period}
}

// over averages over squared sizes that are log-uniform between exp(lo) and exp(hi), each bend having its share of them.
func over(bends []bend, share []float64, lo, hi float64) (all strayed) {
	var each [bendSizes]strayed
	var logs [bendSizes]float64
	at := func(i int) float64 { return math.Exp(lo + (hi-lo)*(float64(i)+0.5)/bendSizes) }
	for i := range each {
		for j := range bends {
			each[i] = each[i].and(bends[j].of(at(i) * share[j]))
		}
		logs[i] = each[i].log
	}
	sum := floats.LogSumExp(logs[:])
	for i, s := range each {
		all = all.plus(s.times(math.Exp(logs[i] - sum)))
	}
	all.log = sum - math.Log(bendSizes)
	return all
}

// Hide adds to the covariance what a drift of the period, and lines of so many turns a cycle, that the cells can hide would change of
// the answer. The answer stays, and so does its evidence: what looks like a drift may be a walk.
func (f *Fit) Hide(turns []float64) {
	along := f.thin().along(softest)
	cycles := f.of.cycles
	// Most of a smooth change of the period is a parabola; the rest falls with the degree as an integrated walk's does.
	if unit := f.start * cycles / (12 * math.Sqrt(5)); slowMost*unit > 1/cycles {
		f.hide([][]bend{slow(along, broadest)}, []float64{1, 1. / 6, 1. / 24}, slowLeast*unit, slowMost*unit)
	}
	first, last := f.of.span()
	for _, t := range turns {
		angle := 2 * math.Pi * t * (last - first)
		unit := f.start / (2 * math.Pi * t) / math.Sqrt2
		if humMost*unit < 1/cycles {
			continue
		}
		var phases [][]bend
		for i := range linePhases {
			phase := math.Pi * float64(i) / linePhases
			phases = append(phases, []bend{along(func(x float64) float64 { return math.Sqrt2 * math.Sin(angle*x+phase) }, broadest)})
		}
		f.hide(phases, []float64{1}, humLeast*unit, humMost*unit)
	}
}

// thin is the fit with so many of its edges, evenly taken, as tell where the slips of a train lie that creeps through its cells.
func (f *Fit) thin() *Fit {
	t, p := *f, &cells{cycles: f.of.cycles, points: rough, step: f.of.step}
	t.of = p
	for s, index := range f.of.Index {
		step := 1 + len(index)/mostEdges
		if step > 1 {
			t.nodes = nil // of more edges
		}
		for i := 0; i < len(index); i += step {
			p.Index[s], p.Side[s] = append(p.Index[s], index[i]), append(p.Side[s], f.of.Side[s][i])
		}
	}
	return &t
}

// hide adds what bends from least to most cells rms, one or another of those given, would change.
func (f *Fit) hide(others [][]bend, share []float64, least, most float64) {
	lo, hi := 2*math.Log(least), 2*math.Log(min(most, broadest))
	if !(hi > lo) {
		return
	}
	each, logs := []strayed{{}}, []float64{math.Log1p(-supposed)}
	for _, bends := range others {
		x := over(bends, share, lo, hi)
		each, logs = append(each, x), append(logs, math.Log(supposed/float64(len(others)))+x.log)
	}
	all := floats.LogSumExp(logs)
	var x strayed
	for i, e := range each {
		x = x.plus(e.times(math.Exp(logs[i] - all)))
	}
	f.Row = f.Row.Plus(budget.Row{High: x.highs, Both: x.both - x.highs, Low: x.periods - 2*x.both + x.highs})
}

// bent is the integral after the edges of each cycle have been moved back: its log, and the mean high time and period.
func (p *cells) bent(by func(k float64) float64, sigma, period, room float64) (log, high, mean float64) {
	straight := p.Edges
	p.Side = [2][]float64{}
	for s := range p.Side {
		for i, k := range p.Index[s] {
			p.Side[s] = append(p.Side[s], straight.Side[s][i]-by(k))
		}
	}
	log, high, mean, _ = p.solve(sigma, period, room)
	p.Edges = straight
	return log, high, mean
}

// legendre is the shifted Legendre polynomial on [0, 1], normalised to mean square one.
func legendre(degree int, x float64) float64 {
	z := 2*x - 1
	a, b := 1.0, z
	for n := 1; n < degree; n++ {
		a, b = b, (float64(2*n+1)*z*b-float64(n)*a)/float64(n+1)
	}
	return math.Sqrt(float64(2*degree+1)) * b
}
