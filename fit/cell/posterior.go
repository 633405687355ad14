package cell

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/budget"
)

// Edges are those of one unbroken run on a lattice, in cells: for falling [0] and rising [1] edges the number of the cycle
// and the lower side of the cell that holds the edge.
type Edges struct {
	Index, Side [2][]float64
}

// cells is the integrand: edges, at one white noise.
type cells struct {
	Edges
	at     []float64 // lower sides of the cells of one side's edges, at the current period
	sigma  float64
	cycles float64 // that the edges span
	points int     // of an outer integral, at least; 0: outer
	step   float64 // of the last one: the next is about as wide; 0: there was none
}

const (
	offsets   = 24   // points of an inner integral at most, half as many in a rough one, and a third as many at least
	closer    = 6    // looks at an offset that many edges leave less of than the points of the look before are apart
	fewest    = 3    // points of it that matter, less one, with which it is told
	finest    = 0.7  // white noises between two of them where so many are too many
	margin    = 3.5  // white noises beyond the hard limits of an offset that it reaches to
	deepest   = 9.0  // nats below the top at which an integral ends
	outer     = 11   // points of the outer integral at least, and three times as many at most: ±4 standard deviations in steps of three quarters of one
	unslipped = 0.3  // of a cell over the record, that the least white noise is
	rough     = 8    // and at least where but a change of the answer is asked for
	hidden    = 20.0 // nats below the top at which a point of an inner one adds nothing
	hopeless  = 5.0  // nats below the best white noise after which more is not tried of a train whose edges a line explains without: twice as much falls as far again and farther
	locked    = 0.99 // cells of room that edges leave to a period of whole cells when all of them agree with it
)

// Noise is a white noise of an edge: standard deviation in cells, and prior probability.
type Noise struct{ Sigma, Weight float64 }

// Whites are the nodes for it. They are
// log-uniform, and the first stands for all below.
var Whites = []Noise{{0.001, 7. / 11.4}, {0.004, 1 / 11.4}, {0.012, 1 / 11.4}, {0.03, 1 / 11.4}, {0.06, 0.7 / 11.4}, {0.12, 0.7 / 11.4}}

// whites are Whites, the first parted until it is less than an edge moves on in a cycle where it slips once over so many: with more an
// edge that slips would do so to and fro, and a train that creeps by less would count as one that does so faster. (Of 2500 cycles the
// period's error was 2.2 of its uncertainty.)
func whites(cycles float64) []Noise {
	all := slices.Clone(Whites)
	for all[0].Sigma*cycles > unslipped && all[0].Weight > 2*all[1].Weight {
		less := Noise{all[0].Sigma / 4, all[0].Weight - all[1].Weight}
		all[0].Weight = all[1].Weight
		all = slices.Insert(all, 0, less)
	}
	return all
}

// White is the white noise of an edge, as a standard deviation in cells, below which it lies with probability p: the prior of Whites, not in steps.
func White(p float64) float64 {
	first := Whites[0]
	return first.Sigma * math.Pow(Largest/first.Sigma, max(p-first.Weight, 0)/(1-first.Weight))
}

// Largest is the most white noise of an edge that is looked at, in cells; with more the linear fit is as good.
const Largest = 0.12

// room is the range of offsets that period leaves to the edges of side s: hi - lo < 0 if they exclude each other.
func (p *cells) room(s int, period float64) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	index, c := p.Index[s], p.Side[s]
	p.at = slices.Grow(p.at[:0], len(c))[:len(c)]
	at := p.at[:len(index)]
	for i, k := range index {
		b := c[i] - k*period
		at[i] = b
		if b > lo {
			lo = b
		}
		if b < hi {
			hi = b
		}
	}
	return lo, hi + 1
}

// least is the smaller room of the two sides.
func (p *cells) least(period float64) float64 {
	l0, h0 := p.room(0, period)
	l1, h1 := p.room(1, period)
	return min(h0-l0, h1-l1)
}

// widest finds the period that leaves most room, by golden section: the room is concave in the period.
func (p *cells) widest(period, reach float64) (best, room float64) {
	const g = 0.6180339887498949
	a, b := period-reach, period+reach
	x, y := b-g*(b-a), a+g*(b-a)
	fx, fy := p.least(x), p.least(y)
	for range 60 {
		if fx < fy {
			a, x, fx = x, y, fy
			y = a + g*(b-a)
			fy = p.least(y)
		} else {
			b, y, fy = y, x, fx
			x = b - g*(b-a)
			fx = p.least(x)
		}
	}
	return x, fx
}

// moments of the offset of side s given the period, and the log of the integral.
type moments struct{ log, mean, variance float64 }

func (p *cells) offset(s int, period float64) moments {
	lo, hi := p.room(s, period)
	from, to := min(lo, hi)-margin*p.sigma, max(lo, hi)+margin*p.sigma
	unit := 1 / p.sigma
	most := offsets
	if p.points == rough {
		most /= 2
	}
	var sums [2][offsets]float64
	up, step, top := sums[0][:0], 0.0, 0.0
	for range closer {
		points := min(max(int((to-from)*unit/finest), offsets/3), most)
		step = (to - from) / float64(points)
		// The sums of what the lower sides leave, from from on, and of what the upper sides do, from to back.
		sums = [2][offsets]float64{}
		up = sums[0][:points]
		down := sums[1][:points]
		low, high, dz := (from+step/2)*unit, (1-to+step/2)*unit, step*unit
		for _, b := range p.at {
			b *= unit
			if z := low - b; z < nearOne {
				addLogNormals(up, z, dz)
			}
			if z := high + b; z < nearOne {
				addLogNormals(down, z, dz)
			}
		}
		top = math.Inf(-1)
		for j := range up {
			up[j] += down[points-1-j]
			top = max(top, up[j])
		}
		first, last := points, 0
		for j, l := range up {
			if l > top-deepest {
				first, last = min(first, j), j
			}
		}
		if last-first >= fewest {
			break
		}
		from, to = from+float64(first-1)*step, from+float64(last+2)*step // many edges leave less than the points are apart
	}
	var w, m, q float64
	for j, l := range up {
		if l < top-hidden {
			continue
		}
		e := math.Exp(l - top)
		d := (float64(j) + 0.5) * step
		w += e
		m += e * d
		q += e * d * d
	}
	m /= w
	return moments{top + math.Log(w*step), from + m, max(q/w-m*m, step*step/12)}
}

// point is one period of the outer integral.
type point struct{ period, log, high, variance float64 }

// solve integrates over the period, in steps that follow the width of the peak.
func (p *cells) solve(sigma, period, room float64) (log, high, mean float64, row budget.Row) {
	least, step := cmp.Or(p.points, outer), cmp.Or(p.step, (max(room, 0)+sigma)/p.cycles/2)
	p.sigma = sigma
	var pts []point
	for range 12 {
		p.step = step
		var full bool
		if pts, full = p.march(period, step, 3*least); full {
			step *= 2
		} else if len(pts) < least {
			step *= float64(len(pts)) / float64(2*least)
		} else {
			break
		}
		period = slices.MaxFunc(pts, func(a, b point) int { return cmp.Compare(a.log, b.log) }).period
	}
	step = p.step
	top := math.Inf(-1)
	for _, x := range pts {
		top = max(top, x.log)
	}
	var w, h, t float64
	for _, x := range pts {
		e := math.Exp(x.log - top)
		w += e
		h += e * x.high
		t += e * (x.period - period)
	}
	h, t = h/w, t/w
	for _, x := range pts {
		e := math.Exp(x.log-top) / w
		dh, dt := x.high-h, x.period-period-t
		dl := dt - dh
		row.High += e * (dh*dh + x.variance)
		row.Low += e * (dl*dl + x.variance)
		row.Both += e * (dh*dl - x.variance)
	}
	return top + math.Log(w*step), h, period + t, row
}

// march evaluates points to both sides of a period until the integrand has died away; full tells that so many were too few.
func (p *cells) march(period, step float64, most int) (pts []point, full bool) {
	pts = make([]point, 0, most)
	top := math.Inf(-1)
	for from, sign := range [2]float64{1, -1} {
		for i := from; len(pts) < most; i++ {
			x := period + sign*float64(i)*step
			fall, rise := p.offset(0, x), p.offset(1, x)
			l := fall.log + rise.log
			pts = append(pts, point{x, l, fall.mean - rise.mean, fall.variance + rise.variance})
			top = max(top, l)
			if l < top-deepest {
				break
			}
		}
	}
	full = len(pts) == most
	return slices.DeleteFunc(pts, func(x point) bool { return x.log < top-deepest }), full // without those on the way to the top
}

// Fit is the posterior of a steady train, in cells: its wander and its jitter are small against a cell.
type Fit struct {
	High, Period float64
	Row          budget.Row // covariance of the high and the low time
	Log          float64    // evidence: log of the likelihood, averaged over Whites
	White        float64    // cells, the likeliest white noise
	start, room  float64    // the period that leaves most room, and how much
	of           *cells
	nodes        []node
}

// node is the answer at one white noise.
type node struct {
	sigma, log, high, period float64
	row                      budget.Row
}

// at is the answer at a white noise, worked out anew where Solve has not left it.
func (f *Fit) at(sigma float64) node {
	for _, n := range f.nodes {
		if n.sigma == sigma {
			return n
		}
	}
	log, high, period, row := f.of.solve(sigma, f.start, f.room)
	return node{sigma, log, high, period, row}
}

// Solve fits edges, over so many cycles, of a train whose period is about the one given; nil if no white noise of Whites explains them.
func Solve(e *Edges, period, cycles float64) *Fit {
	p := &cells{Edges: *e, cycles: cycles}
	f := &Fit{of: p}
	f.start, f.room = p.widest(period, 3/p.cycles)
	var logs []float64
	for _, s := range whites(cycles) {
		if f.room < -8*s.Sigma || f.room > 0 && len(logs) > 0 && logs[len(logs)-1] < floats.Max(logs)-hopeless {
			continue
		}
		n := f.at(s.Sigma)
		f.nodes, logs = append(f.nodes, n), append(logs, n.log+math.Log(s.Weight))
		if floats.MaxIdx(logs) == len(logs)-1 {
			f.White = s.Sigma
		}
	}
	if len(logs) == 0 {
		return nil
	}
	f.Log = floats.LogSumExp(logs)
	for i, n := range f.nodes {
		w := math.Exp(logs[i] - f.Log)
		f.High, f.Period = f.High+w*n.high, f.Period+w*n.period
	}
	for i, n := range f.nodes {
		dh := n.high - f.High
		dl := n.period - f.Period - dh
		f.Row = f.Row.Plus(n.row.Plus(budget.Row{High: dh * dh, Both: dh * dl, Low: dl * dl}).Scale(math.Exp(logs[i] - f.Log)))
	}
	if whole := math.Round(f.start); min(p.least(whole), p.least(f.start)) > locked {
		// Not one edge has slipped to another cell: the period may be locked to the sampling clock. Then rising
		// and falling edges each lie anywhere in their cell, and the high time has the variance of both; as
		// likely as not.
		more := max(1.0/6-f.Row.High, 0) / 2
		f.Row = f.Row.Plus(budget.Row{High: more, Both: -more, Low: more})
	}
	return f
}

// span is the numbers of the first and of the last cycle.
func (e *Edges) span() (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, k := range e.Index {
		first, last = min(first, k[0]), max(last, k[len(k)-1])
	}
	return first, last
}
