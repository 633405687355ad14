// Package change finds where a pulse train changes inside its record: one jump of its times, or a jump and a return, told by
// likelihood from a train that is steady, that drifts or that warms up.
//
// The middles of the pulses are a phase: a line where the train is steady, bent where its period jumps. Their noise is white,
// a random walk of the phase, a random walk of the period, or all three (NIST SP 1065, section 6: white phase, white
// frequency and random-walk frequency noise); every hypothesis is averaged over its shares. The lengths of the pulses
// are looked at by themselves, since a jump of both times may leave the period as it was.
//
// First it is asked whether a train changes in any way, then how: a small jump half way is a drift to the eye, and where the record does
// not tell them apart both are said with their probabilities. White noise that hides a walk bends the phase as a small change does, so
// walks of every size are as likely before, and most is asked against those that bend it so. Of 1,000 simulated steady trains each with
// jitter, a walk of any size, both, or a walk rounded
// to cells none are said to change, of the walks that look most like changes two (TestWalksOfAnySize); of 1,200 each that drift one and
// none to jump. Of such that flicker 2 % are, and 4 % more of which it is said that they may do that instead.
package change

import (
	"math"
	"slices"

	"offbeat/fit/train"
)

// Stretch is a part of the train between two changes, from the first rising edge to the last of those taken; unit of the edges.
type Stretch struct{ From, To float64 }

const (
	guarded   = 12   // points of a stretch that can spare those beside a change
	deepest   = 2    // how often a stretch is looked into again
	divisible = 20   // cycles of one that is
	rounded   = 0.7  // more of the bar is asked where rounding, which is not normal, is all the noise there is
	resolved  = 1.5  // cells that a change moves edges by at least, where they are all rounded to those
	rounding  = 1e-9 // of the times, that the last digits of their numbers are worth at most
)

// Found is how a train changes.
type Found struct {
	Stretches []Stretch // between its jumps, one more than there are; none: it does not jump, or is too short to tell
	Sizes     []Size    // of the jumps of the period
	Alike     bool      // a train that warms up or wanders would look much the same
	Jumps     float64   // probability of that jump, or jump and return, where the record does not tell it from a drift; 0: it is told
	Course    Course    // of the period, where it does not jump or that is not told
	drift     float64   // probability that a drift is beside that jump
}

// looks are the middles and the high times of a train, all and in averages, each nil where rounding could do all that it shows.
func looks(cycles []train.Cycle, cell float64) (all, p points, out [2]*series) {
	all, ok := newPoints(cycles)
	if p = all.thinned(mostPoints); !ok || len(p.index) < fewest {
		return all, p, out
	}
	coherent := [2]float64{all.coherent(cell, all.phase, ofMiddles), all.coherent(cell, all.high, ofHighs)}
	for k, s := range [2]*series{p.phases(), p.highs()} {
		s.least, s.coarse = resolved*cell*coherent[k], 1+rounded*coherent[k]
		if s.spread() >= max(s.least, rounding*math.Abs(p.phase[len(p.phase)-1])) {
			out[k] = s
		}
	}
	return all, p, out
}

// Find says how a train changes. Each stretch between jumps is looked into in turn. cell is the sample interval or the quantum of the
// edges, 0: none.
func Find(cycles []train.Cycle, cell float64) Found {
	f := find(cycles, cell, deepest)
	if len(f.Stretches) == 0 {
		return f
	}
	p, _ := newPoints(cycles)
	var at []int
	for i, s := range f.Stretches[1:] {
		place := (f.Stretches[i].To + s.From) / 2
		at = append(at, slices.IndexFunc(p.from, func(t float64) bool { return t > place }))
	}
	p, at = p.focused(at)
	f.Sizes = p.phases().stated(at, f.Jumps == 0, f.drift)
	return f
}

func find(cycles []train.Cycle, cell float64, depth int) Found {
	f := once(cycles, cell)
	if f.Jumps > 0 || depth == 0 {
		return f
	}
	var all []Stretch
	for _, s := range f.Stretches {
		var part []train.Cycle
		for _, c := range cycles {
			if c.Rise >= s.From && c.Fall <= s.To {
				part = append(part, c)
			}
		}
		more := []Stretch{s}
		if len(part) >= divisible {
			if inside := find(part, cell, depth-1); len(inside.Stretches) > 0 && !inside.Alike && inside.Jumps == 0 {
				more = inside.Stretches
			}
		}
		all = append(all, more...)
	}
	f.Stretches = all
	return f
}

// once looks for one jump, or one jump and a return; for one that is not told from a drift in the middles alone.
func once(cycles []train.Cycle, cell float64) (f Found) {
	all, p, looked := looks(cycles, cell)
	var best jump
	for k, s := range looked {
		if s == nil {
			continue
		}
		j, course := s.search()
		if k == 0 {
			f.Course = course
		}
		// A jump of the duty factor alone moves the middles by a step, which looks like a jump of the period and a return at once.
		atOnce := len(best.at) == 2 && best.at[1]-best.at[0] < 3*s.shortest
		if told := j.probability == 0 && len(j.at) > 0; k == 0 || told && (best.probability > 0 || j.gain > best.gain || atOnce) {
			best = j
		}
	}
	if len(best.at) == 0 {
		return f
	}
	if len(all.index) > len(p.index) {
		best.at = all.finer(best.at, (len(all.index)+mostPoints-1)/mostPoints)
		p = all
	}
	f.Stretches, f.Alike, f.Jumps, f.drift = p.stretches(best.at), best.alike, best.probability, best.drift
	return f
}

// In gives the places where values taken at given times, each the mean of so many cycles, begin to be others, and by how much: a jump, a
// jump and a return, or several; nil where they do not change. Each stretch between is looked into in turn.
func In(at, values, counts []float64) ([]int, []Size) {
	p := points{index: at, high: values, count: counts}
	places := p.inside(deepest)
	if places == nil {
		return nil, nil
	}
	return places, p.highs().sizes(places)
}

// inside are the places where the values change, those within stretches too.
func (p points) inside(depth int) (out []int) {
	if len(p.index) < fewest {
		return nil
	}
	s := p.highs()
	if s.spread() <= rounding*math.Abs(p.high[0]) {
		return nil
	}
	s.coarse = 1
	found, _ := s.search()
	if found.probability > 0 || depth < deepest && found.alike {
		return nil
	}
	from := 0
	for _, to := range append(found.at, len(p.index)) {
		if depth > 0 && len(found.at) > 0 && to-from >= divisible {
			part := points{index: p.index[from:to], high: p.high[from:to], count: p.count[from:to]}
			for _, k := range part.inside(depth - 1) {
				out = append(out, from+k)
			}
		}
		if to < len(p.index) {
			out = append(out, to)
		}
		from = to
	}
	return out
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
