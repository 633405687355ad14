package train

import "math"

// seriesCap is how many single cycles are kept; of more, every second is left out.
const seriesCap = 4096

// series keeps single cycles for drift and pictures, every n-th when there are many.
type series struct {
	start, high, low []float64
	every, skip      int // one of every, and how many are left out before the next
	rise, fall       float64
	have             bool
}

func (s *series) push(x float64, rise, first bool) {
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
func (s *series) pushPair(rise, fall float64) {
	if s.have && !math.IsNaN(s.fall) {
		s.put(s.rise, s.fall-s.rise, rise-s.fall)
	}
	s.rise, s.fall, s.have = rise, fall, true
}

func (s *series) put(start, high, low float64) {
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

func (s *series) endRun() { s.have = false }
