package train

import (
	"math"

	"offbeat/fit/steady"
	"offbeat/fit/transition"
)

const (
	elsewhere = 1.35 // times the usual, or a share of it, that the times of another pace are off by at least
	window    = 16   // intervals in a row that are alike at such a pace
	spread    = 0.3  // of their mean, that those of a state differ by at most, and by one row;
	longRows  = 4    // of as many rows each at least
	missed    = 0.05 // how near to those the times of a train are that misses some of its pulses;
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

// turns gives the usual times of another pace that begins at e[i]. wait: more edges must tell.
func (t *Train) turns(e []transition.Edge, i int, final bool) (usual [2]float64, turns, wait bool) {
	if t.single || len(t.paces)+1 == mostPaces || t.usual[0] == 0 || t.usual[1] == 0 {
		return usual, false, false
	}
	off := func(length float64, k int) bool {
		away := func(from float64) bool { return length > elsewhere*from || length*elsewhere < from }
		return away(t.usual[k]) && (t.recent[k] == 0 || away(t.recent[k]))
	}
	least, most := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{}
	odd := false
	for j := i; j < i+window; j++ {
		if j+1 >= len(e) {
			return usual, false, odd && !final
		}
		a, b, k := &e[j], &e[j+1], kind(e[j].Rise)
		length := b.X - a.X
		if a.Break || b.Break || a.Rise == b.Rise || !t.hold && length < longRows*a.Cell {
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
	return usual, (off(usual[0], 0) || off(usual[1], 1)) && (t.pace.edges == 0 || !t.misses(usual)), false
}

// misses reports whether such times are the usual ones with every second pulse missing, or more: one is as long as ever.
func (t *Train) misses(usual [2]float64) bool {
	period := t.usual[0] + t.usual[1]
	more := (usual[0] + usual[1]) / period
	for k, length := range usual {
		if math.Abs(length-t.usual[k]) < missed*length && math.Round(more) > 1 && math.Abs(more-math.Round(more)) < missed {
			t.Misses = true
			return true
		}
	}
	return false
}

// turn begins another pace.
func (t *Train) turn(usual [2]float64) {
	t.endRun()
	t.bursts = false
	if t.pace.usual = t.usual; t.pace.edges >= leastPace {
		t.paces = append(t.paces, t.pace)
	} else {
		t.OddGaps += t.pace.edges / 2
	}
	t.pace, t.usual, t.recent = Pace{}, usual, [2]float64{}
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

// blend takes an interval into the mean of the last few.
func (t *Train) blend(length float64, k int) {
	if t.recent[k] == 0 {
		t.recent[k] = length
	}
	t.recent[k] += (length - t.recent[k]) / 4
}

// Paces of the train, after End; nil where there is but one.
func (t *Train) Paces() []Pace {
	if len(t.paces) == 0 {
		return nil
	}
	return append(t.paces, t.pace)
}
