// Package change finds where a pulse train changes inside its record: one jump of its times, or a jump and a return, told by
// likelihood from a train that is steady, that drifts or that warms up.
//
// The middles of the pulses are a phase: a line where the train is steady, bent where its period jumps. Their noise is white,
// a random walk of the phase, a random walk of the period, or all three (NIST SP 1065, section 6: white phase, white
// frequency and random-walk frequency noise); every hypothesis is averaged over its shares. The lengths of the pulses
// are looked at by themselves, since a jump of both times may leave the period as it was.
//
// Of 20,700 simulated steady trains with jitter, walks, drift and rounding 16 change (of 4,600 with a random walk beside white noise that
// all but hides it, 14) and one wanders; of 11,500 without a drift 6 drift. Of 6,900 that warm up, flicker or wander 115 change, and
// 175 more of which it is said that they may do that instead.
package change

import (
	"math"

	"offbeat/fit/train"
)

// Stretch is a part of the train between two changes, from the first rising edge to the last of those taken; unit of the edges.
type Stretch struct{ From, To float64 }

const (
	mostPoints = 160  // that are looked at; neighbours are averaged
	guarded    = 12   // points of a stretch that can spare those beside a change
	deepest    = 2    // how often a stretch is looked into again
	divisible  = 20   // cycles of one that is
	rounded    = 0.7  // more of the bar is asked where rounding, which is not normal, is all the noise there is
	resolved   = 1.5  // cells that a change moves edges by at least, where they are all rounded to those
	rounding   = 1e-9 // of the times, that the last digits of their numbers are worth at most
)

// Run says how the period runs over a train without a jump, told like those of Find.
func Run(cycles []train.Cycle, cell float64) Course {
	p, ok := newPoints(cycles)
	if !ok {
		return Steady
	}
	coherent := p.coherent(cell)
	if p = p.thinned(mostPoints); len(p.index) < fewest {
		return Steady
	}
	s := p.phases()
	if s.coarse = 1 + rounded*coherent; s.spread() < resolved*cell*coherent {
		return Steady
	}
	return s.course()
}

// Find gives the stretches of a train that changes; nil where it is steady, drifts, or is too short to tell. Each stretch is
// looked into in turn. cell is the sample interval or the quantum of the edges, 0: none. Where a train that warms up or wanders would
// look much the same, alike is true.
func Find(cycles []train.Cycle, cell float64) (found []Stretch, alike bool) {
	return find(cycles, cell, deepest)
}

func find(cycles []train.Cycle, cell float64, depth int) (out []Stretch, alike bool) {
	found, alike := once(cycles, cell)
	if len(found) == 0 || depth == 0 {
		return found, alike
	}
	for _, s := range found {
		var part []train.Cycle
		for _, c := range cycles {
			if c.Rise >= s.From && c.Fall <= s.To {
				part = append(part, c)
			}
		}
		more := []Stretch{s}
		if len(part) >= divisible {
			if inside, unsure := find(part, cell, depth-1); len(inside) > 0 && !unsure {
				more = inside
			}
		}
		out = append(out, more...)
	}
	return out, alike
}

// once looks for one jump, or one jump and a return.
func once(cycles []train.Cycle, cell float64) (found []Stretch, alike bool) {
	p, ok := newPoints(cycles)
	if !ok {
		return nil, false
	}
	coherent, all := p.coherent(cell), p
	p = p.thinned(mostPoints)
	if len(p.index) < fewest {
		return nil, false
	}
	var best jump
	least := resolved * cell * coherent
	for _, s := range []*series{p.phases(), p.highs()} {
		if s.spread() < max(least, rounding*math.Abs(p.phase[len(p.phase)-1])) {
			continue // nothing that rounding could not do
		}
		s.coarse = 1 + rounded*coherent
		f := s.search()
		// A jump of the duty factor alone moves the middles by a step, which looks like a jump of the period and a return at once.
		atOnce := len(best.at) == 2 && best.at[1]-best.at[0] < 3*s.shortest
		if f.moved > least && (f.gain > best.gain || f.gain > 0 && atOnce) {
			best = f
		}
	}
	if best.gain <= 0 {
		return nil, false
	}
	if len(all.index) > len(p.index) {
		best.at = all.finer(best.at, (len(all.index)+mostPoints-1)/mostPoints)
		p = all
	}
	return p.stretches(best.at), best.alike
}

// In gives the places where values taken at given times, each the mean of so many cycles, begin to be others: a jump, a jump and a
// return, or several; nil where they do not change.
func In(at, values, counts []float64) []int {
	p := points{index: at, high: values, count: counts}
	if len(at) < fewest {
		return nil
	}
	s := p.highs()
	if s.spread() <= rounding*math.Abs(values[0]) {
		return nil
	}
	s.coarse = 1
	return s.search().at
}

// stretches lie between the changes at the given points; long ones leave out the points beside a change, which may hold it.
func (p *points) stretches(at []int) (out []Stretch) {
	from := 0
	for _, to := range append(at, len(p.index)) {
		first, last := from, to-1
		if to-from >= guarded {
			if from > 0 {
				first++
			}
			if to < len(p.index) {
				last--
			}
		}
		out = append(out, Stretch{p.from[first], p.to[last]})
		from = to
	}
	return out
}
