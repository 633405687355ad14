package noise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit/budget"
)

// rounding is how numbers that were each rounded by itself make edges: what each leaves white in an edge, [0] fall [1] rise, and what adds
// up in each high [0] and low [1] time, as shares of the variance of rounding.
type rounding struct {
	white, steps [2]float64
	numbers      []number
}

// number is what was rounded: from the edge back edges before to each rise or fall; and what of its error the high and the low time have.
type number struct {
	rise      bool
	back      int
	high, low float64
}

// roundings of durations; instants that were rounded are the sample lattice of a chain.
var roundings = map[acquire.Rounding]rounding{
	acquire.OfTimes:   {steps: [2]float64{1, 1}, numbers: []number{{false, 1, 1, 0}, {true, 1, 0, 1}}},
	acquire.OfPeriods: {white: [2]float64{1, 0}, steps: [2]float64{0, 1}, numbers: []number{{false, 1, 1, -1}, {true, 2, 0, 1}}},
}

// startsAndHighs are rounded instants, and how long each pulse lasts.
var startsAndHighs = number{false, 1, 1, -1}

const (
	finestNoise   = 0.02 // standard deviations of a number before it is rounded, in digits, that are looked at
	coarsestNoise = 2.0
	noiseSteps    = 20
	noiseless     = 0.8 // prior probability of none to speak of: the best timers' noise is far below a digit
	ownOdds       = 3.0 // log of the prior odds of numbers rounded one by one: what cannot be told is wide
	noNoise       = 1e-9
	byItself      = 1.0 // standard deviation of numbers from which on rounding one by one is as noise
	reachNoise    = 6.0 // standard deviations to either side
)

// own gives the floors of the hypothesis that numbers were rounded one by one.
func (r *rounding) own() (fl floors) {
	for k := range 2 {
		fl.known[k], fl.steps[k] = r.white[k]/12, r.steps[k]/12
	}
	return fl
}

// of are the numbers of a chain, less the first of them, in whole digits, and that one less nominal.
func (n *number) of(c *chain) (x []float64, first float64) {
	for i := n.back; i < len(c.y); i++ {
		if c.rise[i] != n.rise || c.n[i] != 1 || c.n[i-n.back] != 1 || c.start[i] || n.back > 1 && c.start[i-1] {
			continue
		}
		if c.dh[i]+c.dl[i]+float64(n.back-1)*(c.dh[i-1]+c.dl[i-1]) != float64(n.back) { // edges are missing between
			continue
		}
		x = append(x, c.y[i]-c.y[i-n.back])
	}
	if len(x) > 0 {
		first = x[0]
	}
	for i := range x {
		x[i] = math.Round(x[i] - first)
	}
	return x, first
}

// known is what numbers say of their mean: the logarithm of the evidence, the mean, its variance, and the variance of the numbers' own noise.
type known struct{ log, mean, variance, noise float64 }

// rounded is what is known of the mean of numbers that scatter normally about it and were then each rounded to a whole one, exactly, and
// if rounding were noise of the same variance; ok is false where they scatter by so much that the two are the same.
func rounded(x []float64, density func(off, s float64) float64) (exact, asNoise known, ok bool) {
	if len(x) == 0 || stat.PopVariance(x, nil) > byItself*byItself {
		return exact, asNoise, false
	}
	values, count := slices.Compact(slices.Sorted(slices.Values(x))), map[float64]float64{}
	for _, v := range x {
		count[v]++
	}
	least, most, middle := floats.Min(x), floats.Max(x), stat.Mean(x, nil)
	of := func(reach func(s float64) (lo, hi float64), density func(off, s float64) float64) (r known) {
		var logs, at, noise []float64
		for k := range noiseSteps + 1 {
			s := finestNoise * math.Pow(coarsestNoise/finestNoise, float64(k)/noiseSteps)
			step, share := min(s, 0.5)/(2+math.Sqrt(float64(len(x)))/2), (1-noiseless)/noiseSteps
			if k == noiseSteps {
				s, step, share = noNoise, 0.01/(1+float64(len(x))/50), noiseless
			}
			lo, hi := reach(s)
			many := math.Ceil((hi - lo) / step)
			step = (hi - lo) / many
			share = math.Log(step * share)
			for i := range int(many) {
				h := lo + step*(float64(i)+0.5)
				l := share
				for _, v := range values {
					l += count[v] * math.Log(density(v-h, s))
				}
				logs, at, noise = append(logs, l), append(at, h), append(noise, s*s)
			}
		}
		r.log = floats.LogSumExp(logs)
		for i, l := range logs {
			logs[i] = math.Exp(l - r.log)
		}
		r.mean, r.variance = stat.PopMeanVariance(at, logs)
		r.noise = stat.Mean(noise, logs)
		return r
	}
	exact = of(func(s float64) (lo, hi float64) { return most - 1 - reachNoise*s, least + 1 + reachNoise*s }, density)
	asNoise = of(func(s float64) (lo, hi float64) {
		d := reachNoise * math.Sqrt((s*s+1.0/12)/float64(len(x)))
		return middle - d, middle + d
	}, noisy)
	return exact, asNoise, true
}

// alone is the probability of a number that was rounded by itself.
func alone(off, s float64) float64 {
	off = math.Abs(off)
	return 0.5 * (math.Erfc((off-0.5)/s/math.Sqrt2) - math.Erfc((off+0.5)/s/math.Sqrt2))
}

// difference is the probability of a number that is the difference of two instants, each rounded at a place of its own.
func difference(off, s float64) float64 {
	below := func(z float64) float64 { // ∫ of the normal distribution's up to z
		return z/2*math.Erfc(-z/s/math.Sqrt2) + s/math.Sqrt(2*math.Pi)*math.Exp(-z*z/2/s/s)
	}
	return below(off+1) - 2*below(off) + below(off-1)
}

// byThemselves is the probability that numbers were rounded one by one, and are no differences of instants that were.
func byThemselves(apart, own known) float64 { return 1 / (1 + math.Exp(apart.log-own.log-ownOdds)) }

// noisy takes rounding for normal noise.
func noisy(off, s float64) float64 {
	v := s*s + 1.0/12
	return math.Exp(-off*off/2/v) / math.Sqrt(2*math.Pi*v)
}

// oneByOne adds the hypothesis that the numbers of a list were rounded one by one; ways are its answers where the rounding is noise.
func (m *model) oneByOne(r *rounding, ways []way) {
	open := budget.Row{Name: LatticeName, Kind: "B", Distribution: "rectangular"}
	apart := ways[0] // the noise of the numbers is their own, too
	apart.log, apart.excess, apart.own, apart.rows = 0, excess{}, &budget.Row{}, nil
	*apart.own = open
	var log, high, low float64
	for _, n := range r.numbers {
		x, _ := n.of(m.sample)
		exact, asNoise, ok := rounded(x, alone)
		if !ok {
			apart.log = math.Inf(-1)
			continue
		}
		row := func(v float64) budget.Row {
			return budget.Row{High: v * n.high * n.high, Both: v * n.high * n.low, Low: v * n.low * n.low}
		}
		log += exact.log - asNoise.log
		high, low = high+n.high*(exact.mean-asNoise.mean), low+n.low*(exact.mean-asNoise.mean)
		open = open.Plus(row(max(exact.variance-asNoise.variance, 0)))
		apart.log += exact.log
		*apart.own = apart.own.Plus(row(exact.variance))
		apart.excess.high, apart.excess.low = apart.excess.high+exact.noise*max(n.high, 0), apart.excess.low+exact.noise*max(n.low, 0)
	}
	for _, row := range ways[0].rows {
		apart.rows = append(apart.rows, row.Scale(0))
	}
	apart.h, apart.l, apart.log = apart.h+high, apart.l+low, apart.log+ownOdds
	for i := range ways {
		w := &ways[i]
		w.log, w.h, w.l, w.own = w.log+log+ownOdds, w.h+high, w.l+low, &open
	}
	m.ways = append(append(m.ways, ways...), apart)
}

// pulses takes the mean length of the pulses for the high time, as far as they look rounded each by itself: the places of their ends say
// nothing then. What the high time has of that, the low one lacks.
func (m *model) pulses(a *answer) {
	x, first := startsAndHighs.of(m.sample)
	exact, _, ok := rounded(x, alone)
	if !ok {
		return
	}
	apart, _, _ := rounded(x, difference)
	p := byThemselves(apart, exact)
	d := m.sample.h0 + first + exact.mean - m.c.h0 - a.high
	known, _, _ := budget.Sum(a.rows)
	v := max(p*(exact.variance-known)+p*(1-p)*d*d, 0)
	a.high, a.low = a.high+p*d, a.low-p*d
	for i := range a.rows {
		if row := &a.rows[i]; row.Name == LatticeName {
			*row = row.Plus(budget.Row{High: v, Both: -v, Low: v})
		}
	}
}
