package interval

import (
	"math"
	"slices"
)

const (
	storeCap  = 2048 // cycles kept singly; beyond, neighbours are averaged
	fineCap   = 1024 // single cycles kept for the noise once averaging has begun
	seriesCap = 4096
	digestCap = 192 // averages that stand for the whole record
)

// cycle is one rising edge and the falling edge after it, or the mean of n such pairs. NaN: not there.
type cycle struct {
	rise, fall float64
	index      float64 // mean number of the cycle within its run
	n          int
	start      bool // first of its run
}

// block sums up neighbouring whole cycles: their edges less its origin.
type block struct {
	cycle
	origin float64
}

func newBlock(c cycle) block {
	b := block{c, c.rise}
	b.rise, b.fall = 0, c.fall-c.rise
	return b
}

// add takes the next cycle.
func (b *block) add(c *cycle) {
	b.rise += c.rise - b.origin
	b.fall += c.fall - b.origin
	b.n++
}

// mean is the cycle that stands for the block.
func (b *block) mean() cycle {
	c, n := b.cycle, float64(b.n)
	c.rise, c.fall = b.origin+b.rise/n, b.origin+b.fall/n
	c.index += (n - 1) / 2
	return c
}

// store keeps the cycles of the sound runs, in bounded memory: when full, neighbours within a run are
// averaged in pairs.
type store struct {
	cycles []cycle
	fine   []cycle // the first single cycles, once cycles holds averages; see sample
	level  int     // cycles averaged into one; 0 counts as 1
	acc    block   // being filled
	cur    cycle   // being filled
	begun  bool    // a cycle of the current run has been filed
	index  float64
	open   bool
	full   bool // too many short runs to average: later ones are left out

	edges  int
	whole  [2]int // whole low and high pulses
	cycle2 int    // whole cycles, counted from the first edge of each run
	inRun  int

	series seriesStore
}

// push takes the next edge of the current run.
func (s *store) push(x float64, rise bool) {
	s.edges++
	if s.inRun > 0 {
		s.whole[1-kind(rise)]++
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
		s.cur = cycle{rise: x, fall: math.NaN(), index: s.index, n: 1}
		s.open = true
		return
	}
	if !s.open {
		s.cur = cycle{rise: math.NaN(), fall: x, index: s.index, n: 1}
		s.open = true
		return
	}
	s.cur.fall = x
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
	if c, b := &s.cur, &s.acc; b.n > 0 && b.n+1 < s.level && !math.IsNaN(c.rise) && !math.IsNaN(c.fall) {
		b.add(c)
		s.index++
	} else {
		s.put(*c)
	}
	c := &s.cur
	c.rise, c.fall, c.index, c.n = rise, fall, s.index, 1
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
func (s *store) put(c cycle) {
	s.index++
	if s.full {
		return
	}
	if s.level > 1 && (math.IsNaN(c.rise) || math.IsNaN(c.fall)) {
		return // half a cycle is next to nothing among so many
	}
	c.start, s.begun = !s.begun, true
	switch {
	case s.level <= 1:
		s.cycles = append(s.cycles, c)
		s.shrink()
		return
	case s.acc.n == 0:
		s.acc = newBlock(c)
	default:
		s.acc.add(&c)
	}
	if s.acc.n == s.level {
		s.flush()
	}
}

func (s *store) flush() {
	if s.acc.n > 0 {
		s.cycles = append(s.cycles, s.acc.mean())
		s.acc = block{}
		s.shrink()
	}
}

// sample is what the noise is sought in: every cycle by itself; or the first ones, and behind them averages of the rest,
// which show a walk that the first are too short for.
func (s *store) sample() []cycle {
	if s.fine == nil {
		return s.cycles
	}
	all := s.fine[: fineCap/2 : fineCap/2]
	var rest []cycle
	seen := 0
	for _, c := range s.cycles {
		if seen >= len(all) {
			rest = append(rest, c)
		}
		seen += c.n
	}
	for level := s.level; len(rest) > fineCap/2; level *= 2 {
		before := len(rest)
		if rest = halve(rest, level); len(rest) > before*3/4 { // runs too short to average
			rest = rest[:fineCap/2]
		}
	}
	if len(rest) > 0 {
		rest[0].start = true
	}
	return append(all, rest...)
}

// digest is the whole record in averages, few of them; nil where the record is short, or breaks too often.
func (s *store) digest() []cycle {
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
func merge(a, b cycle) cycle {
	wa, wb := float64(a.n), float64(b.n)
	mean := func(x, y float64) float64 { return x + (y-x)*wb/(wa+wb) }
	return cycle{mean(a.rise, b.rise), mean(a.fall, b.fall), mean(a.index, b.index), a.n + b.n, a.start}
}

// shrink halves a full store.
func (s *store) shrink() {
	if len(s.cycles) < storeCap {
		return
	}
	if s.level <= 1 {
		s.level = 1
		s.fine = append([]cycle(nil), s.cycles[:fineCap]...)
	}
	s.cycles = halve(s.cycles, s.level)
	s.level *= 2
	s.full = len(s.cycles) > storeCap*3/4
}

// halve averages neighbours of level cycles each in pairs, in place. Half a cycle is left out, and one that is alone is
// kept.
func halve(old []cycle, level int) []cycle {
	out := old[:0]
	for i := 0; i < len(old); i++ {
		c := old[i]
		half := math.IsNaN(c.rise) || math.IsNaN(c.fall)
		alone := i+1 == len(old) || old[i+1].start
		switch {
		case half && !(c.start && alone):
			if i+1 < len(old) && c.start {
				old[i+1].start = true
			}
		case alone || c.n != level || old[i+1].n != level || math.IsNaN(old[i+1].rise) || math.IsNaN(old[i+1].fall):
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

// seriesStore keeps single cycles for drift and pictures, every n-th when there are many.
type seriesStore struct {
	start, high, low []float64
	every, skip      int // one of every, and how many are left out before the next
	rise, fall       float64
	have             bool
}

func (s *seriesStore) push(x float64, rise, first bool) {
	if first {
		s.have = false
	}
	switch {
	case rise && s.have && !math.IsNaN(s.fall):
		s.put(s.rise, s.fall-s.rise, x-s.fall)
		fallthrough
	case rise:
		s.rise, s.fall, s.have = x, math.NaN(), true
	case s.have:
		s.fall = x
	}
}

// pushPair takes a whole high pulse of the current run.
func (s *seriesStore) pushPair(rise, fall float64) {
	if s.have && !math.IsNaN(s.fall) {
		s.put(s.rise, s.fall-s.rise, rise-s.fall)
	}
	s.rise, s.fall, s.have = rise, fall, true
}

func (s *seriesStore) put(start, high, low float64) {
	if s.skip > 0 {
		s.skip--
		return
	}
	s.every = max(s.every, 1)
	if len(s.start) == seriesCap { // its number is a multiple of twice every, so that it goes on the series
		for i := 0; i < seriesCap/2; i++ {
			s.start[i], s.high[i], s.low[i] = s.start[2*i], s.high[2*i], s.low[2*i]
		}
		n := seriesCap / 2
		s.start, s.high, s.low = s.start[:n], s.high[:n], s.low[:n]
		s.every *= 2
	}
	s.start, s.high, s.low = append(s.start, start), append(s.high, high), append(s.low, low)
	s.skip = s.every - 1
}

func (s *seriesStore) endRun() { s.have = false }
