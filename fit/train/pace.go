package train

import (
	"cmp"
	"math"

	"offbeat/fit/steady"
	"offbeat/fit/transition"
)

const (
	elsewhere = 1.35 // times the usual, or a share of it, that the times of another pace are off by at least
	window    = 16   // intervals in a row that are alike at such a pace
	spread    = 0.3  // of their mean, that those of a state differ by at most, and by one row;
	longRows  = 4    // of as many rows each at least
	missed    = 0.05 // how near to those the times of a train are that misses some of its pulses
	mostPaces = 6    // of a record; one that changes more often is modulated
	leastPace = 6    // edges of one
)

// Pace is a stretch of a record in which its output runs at a rate that is another by far: from edge to edge, in their unit.
type Pace struct {
	From, To float64
	usual    [2]float64
	edges    int
	census   steady.Census
}

// add takes edges of a run, or the first of one.
func (p *Pace) add(e []transition.Edge, first bool) {
	if p.edges == 0 {
		p.From = e[0].X
	}
	if p.edges, p.To = p.edges+len(e), e[len(e)-1].X; first {
		p.census.Add(e[0].X, e[0].Rise, true)
	} else {
		p.census.AddRun(e)
	}
}

// paces are those of a record, the present one by itself.
type paces struct {
	past   []Pace
	now    Pace
	usual  [2]float64 // interval before the next edge: [0] low, [1] high
	recent [2]float64 // the same of the last few alone
	Misses bool       // in a row, every second pulse is missing, or more
}

// blend takes an interval into the mean of the last few.
func (p *paces) blend(length float64, k int) {
	p.recent[k] = cmp.Or(p.recent[k], length)
	p.recent[k] += (length - p.recent[k]) / 4
}

// turns gives the usual times of another pace that begins at e[i]. rows: pulses are looked at by those. wait: more edges must tell.
func (p *paces) turns(e []transition.Edge, i int, rows, final bool) (usual [2]float64, turns, wait bool) {
	if len(p.past)+1 == mostPaces || p.usual[0] == 0 || p.usual[1] == 0 {
		return usual, false, false
	}
	off := func(length float64, k int) bool {
		away := func(from float64) bool { return length > elsewhere*from || length*elsewhere < from }
		return away(p.usual[k]) && (p.recent[k] == 0 || away(p.recent[k]))
	}
	least, most := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{}
	odd := false
	for j := i; j < i+window; j++ {
		if j+1 >= len(e) {
			return usual, false, odd && !final
		}
		a, b, k := &e[j], &e[j+1], transition.Polarity(e[j].Rise)
		length := b.X - a.X
		if a.Break || b.Break || a.Rise == b.Rise || rows && length < longRows*a.Cell {
			return usual, false, false
		}
		odd = odd || off(length, k)
		if j == i+1 && !odd {
			return usual, false, false
		}
		if least[k], most[k] = min(least[k], length), max(most[k], length); most[k]-least[k] > spread*least[k]+a.Cell {
			return usual, false, false
		}
		usual[k] += length / (window / 2)
	}
	if !off(usual[0], 0) && !off(usual[1], 1) {
		return usual, false, false
	}
	if p.now.edges > 0 && p.missing(usual) {
		p.Misses = true
		return usual, false, false
	}
	return usual, true, false
}

// missing reports whether such times are the usual ones with every second pulse missing, or more: one is as long as ever.
func (p *paces) missing(usual [2]float64) bool {
	more := (usual[0] + usual[1]) / (p.usual[0] + p.usual[1])
	for k, length := range usual {
		if math.Abs(length-p.usual[k]) < missed*length && math.Round(more) > 1 && math.Abs(more-math.Round(more)) < missed {
			return true
		}
	}
	return false
}

// turn begins another pace, and gives how many edges had none of their own.
func (p *paces) turn(usual [2]float64) (few int) {
	if p.now.usual = p.usual; p.now.edges >= leastPace {
		p.past = append(p.past, p.now)
	} else {
		few = p.now.edges
	}
	p.now, p.usual, p.recent = Pace{}, usual, [2]float64{}
	return few
}

// Paces of the train, after its end, the present one last.
func (p *paces) Paces() []Pace {
	p.now.usual = p.usual
	return append(p.past[:len(p.past):len(p.past)], p.now)
}

// Part is what a pace has between two times.
func (p Pace) Part(from, to float64) Pace {
	p.From, p.To, p.census = from, to, *p.census.Part(from, to)
	return p
}
