package train

import (
	"math"
	"slices"

	"offbeat/fit/transition"
)

const (
	storeCap  = 2048 // cycles kept singly; beyond, neighbours are averaged
	fineCap   = 1024 // single cycles kept for the noise once averaging has begun
	digestCap = 192  // averages that stand for the whole record
)

// Cycle is one rising edge and the falling edge after it, or the mean of N such pairs. NaN: not there.
type Cycle struct {
	Rise, Fall float64
	Index      float64 // mean number of the cycle within its run
	N          int
	Start      bool // first of its run
}

// block sums up neighbouring whole cycles: their edges less its origin.
type block struct {
	Cycle
	origin float64
}

func newBlock(c Cycle) block {
	b := block{c, c.Rise}
	b.Rise, b.Fall = 0, c.Fall-c.Rise
	return b
}

// add takes the next cycle.
func (b *block) add(c *Cycle) {
	b.Rise += c.Rise - b.origin
	b.Fall += c.Fall - b.origin
	b.N++
}

// mean is the cycle that stands for the block.
func (b *block) mean() Cycle {
	c, n := b.Cycle, float64(b.N)
	c.Rise, c.Fall = b.origin+b.Rise/n, b.origin+b.Fall/n
	c.Index += (n - 1) / 2
	return c
}

// store keeps the cycles of the sound runs, in bounded memory: when full, neighbours within a run are
// averaged in pairs.
type store struct {
	cycles []Cycle
	fine   []Cycle // the first single cycles, once cycles holds averages; see Record
	level  int     // cycles averaged into one; 0 counts as 1
	acc    block   // being filled
	cur    Cycle   // being filled
	begun  bool    // a cycle of the current run has been filed
	index  float64
	open   bool
	full   bool // too many short runs to average: later ones are left out

	edges  int
	whole  [2]int // whole low and high pulses
	cycle2 int    // whole cycles, counted from the first edge of each run
	inRun  int

	series series
}

// push takes the next edge of the current run.
func (s *store) push(x float64, rise bool) {
	s.edges++
	if s.inRun > 0 {
		s.whole[1-transition.Polarity(rise)]++
		if s.inRun%2 == 0 {
			s.cycle2++
		}
	}
	s.inRun++
	s.series.push(x, rise, s.inRun == 1)
	if rise {
		if s.open {
			s.put(s.cur)
		}
		s.cur = Cycle{Rise: x, Fall: math.NaN(), Index: s.index, N: 1}
		s.open = true
		return
	}
	if !s.open {
		s.cur = Cycle{Rise: math.NaN(), Fall: x, Index: s.index, N: 1}
		s.open = true
		return
	}
	s.cur.Fall = x
}

// pushPair takes a whole high pulse of the current run, whose last edge was a fall.
func (s *store) pushPair(rise, fall float64) {
	s.edges += 2
	s.whole[0]++
	s.whole[1]++
	s.cycle2++
	s.inRun += 2
	if r := &s.series; r.skip > 0 && r.have && !math.IsNaN(r.fall) {
		r.skip--
		r.rise, r.fall = rise, fall
	} else {
		r.pushPair(rise, fall)
	}
	if c, b := &s.cur, &s.acc; b.N > 0 && b.N+1 < s.level && !math.IsNaN(c.Rise) && !math.IsNaN(c.Fall) {
		b.add(c)
		s.index++
	} else {
		s.put(*c)
	}
	c := &s.cur
	c.Rise, c.Fall, c.Index, c.N = rise, fall, s.index, 1
}

func (s *store) endRun() {
	if s.open {
		s.put(s.cur)
	}
	s.flush()
	s.open, s.begun, s.index, s.inRun = false, false, 0, 0
	s.series.endRun()
}

// put files one finished cycle.
func (s *store) put(c Cycle) {
	s.index++
	if s.full {
		return
	}
	if s.level > 1 && (math.IsNaN(c.Rise) || math.IsNaN(c.Fall)) {
		return // half a cycle is next to nothing among so many
	}
	c.Start, s.begun = !s.begun, true
	switch {
	case s.level <= 1:
		s.cycles = append(s.cycles, c)
		s.shrink()
		return
	case s.acc.N == 0:
		s.acc = newBlock(c)
	default:
		s.acc.add(&c)
	}
	if s.acc.N == s.level {
		s.flush()
	}
}

func (s *store) flush() {
	if s.acc.N > 0 {
		s.cycles = append(s.cycles, s.acc.mean())
		s.acc = block{}
		s.shrink()
	}
}

// sample is the first cycles singly, and behind them averages of the rest.
func (s *store) sample() []Cycle {
	if s.fine == nil {
		return s.cycles
	}
	all := s.fine[: fineCap/2 : fineCap/2]
	var rest []Cycle
	seen := 0
	for _, c := range s.cycles {
		if seen >= len(all) {
			rest = append(rest, c)
		}
		seen += c.N
	}
	for level := s.level; len(rest) > fineCap/2; level *= 2 {
		before := len(rest)
		if rest = halve(rest, level); len(rest) > before*3/4 { // runs too short to average
			rest = rest[:fineCap/2]
		}
	}
	if len(rest) > 0 {
		rest[0].Start = true
	}
	return append(all, rest...)
}

// digest is the whole record in few averages.
func (s *store) digest() []Cycle {
	out, level := slices.Clone(s.cycles), max(s.level, 1)
	for len(out) > digestCap {
		before := len(out)
		if out = halve(out, level); len(out) > before*3/4 {
			return nil
		}
		level *= 2
	}
	if len(out) == len(s.cycles) {
		return nil
	}
	return out
}

// merge is the mean of two neighbours, weighted by the cycles in them.
func merge(a, b Cycle) Cycle {
	wa, wb := float64(a.N), float64(b.N)
	mean := func(x, y float64) float64 { return x + (y-x)*wb/(wa+wb) }
	return Cycle{mean(a.Rise, b.Rise), mean(a.Fall, b.Fall), mean(a.Index, b.Index), a.N + b.N, a.Start}
}

// shrink halves a full store.
func (s *store) shrink() {
	if len(s.cycles) < storeCap {
		return
	}
	if s.level <= 1 {
		s.level = 1
		s.fine = append([]Cycle(nil), s.cycles[:fineCap]...)
	}
	s.cycles = halve(s.cycles, s.level)
	s.level *= 2
	s.full = len(s.cycles) > storeCap*3/4
}

// halve averages neighbours of level cycles each in pairs, in place. Half a cycle is left out, and one that is alone is
// kept.
func halve(old []Cycle, level int) []Cycle {
	out := old[:0]
	for i := 0; i < len(old); i++ {
		c := old[i]
		half := math.IsNaN(c.Rise) || math.IsNaN(c.Fall)
		alone := i+1 == len(old) || old[i+1].Start
		switch {
		case half && !(c.Start && alone):
			if i+1 < len(old) && c.Start {
				old[i+1].Start = true
			}
		case alone || c.N != level || old[i+1].N != level || math.IsNaN(old[i+1].Rise) || math.IsNaN(old[i+1].Fall):
			if !half {
				out = append(out, c)
			}
		default:
			out = append(out, merge(c, old[i+1]))
			i++
		}
	}
	return out
}
