package comparetest

import (
	"math"

	"offbeat/fit/fittest"
)

// farOff is the number of standard deviations beyond which a likelihood, exp(-72), can't matter.
const farOff = 12

// ruledOut says that no board of the hypothesis comes near the measured times or the control pin's reading. Each of the
// quantities compared rises or falls with each parameter throughout, so its extremes lie at ends of the parameters' supports,
// and one pass over the parameters finds them. Where some end doesn't run, nothing is ruled out. Nor is it where a shifted
// part may be far off: with a half-cycle as short as the comparator's delay, the overshoot works against the resistor that
// makes it, and the other half-cycle turns.
func (s *sampler) ruledOut() bool {
	if s.h.unexplained || s.h.shifted {
		return false
	}
	v := s.v
	sigma := [equations + 1]float64{math.Sqrt(v.cov[0]), math.Sqrt(v.cov[1]), math.Inf(1), math.Sqrt(v.cov[0] + v.cov[1] - 2*v.cov[2])}
	switch c := s.h.base.n.Circuit; {
	case v.times == 1:
		sigma[1], sigma[3] = math.Inf(1), math.Inf(1)
	case c == fittest.Schmitt || c == fittest.Comparator: // their ratio turns back where the output's levels cross over
		sigma[3] = math.Inf(1)
	}
	if len(s.h.control) > 0 {
		c := s.h.control[0]
		sigma[2] = max(c.Half, c.Standard)
	}
	for i := range sigma {
		if math.IsInf(sigma[i], 1) {
			continue
		}
		least, ok := s.extreme(func(r [equations]float64) float64 { return compared(r)[i] })
		most, fine := s.extreme(func(r [equations]float64) float64 { return -compared(r)[i] })
		if ok && fine && (least > farOff*sigma[i] || -most < -farOff*sigma[i]) {
			return true
		}
	}
	return false
}

// compared are the residuals and, last, that of the ratio of high to low.
func compared(r [equations]float64) [equations + 1]float64 {
	return [equations + 1]float64{r[0], r[1], r[2], r[0] - r[1]}
}

// extreme is the least value of f over the corners of the parameters' supports.
func (s *sampler) extreme(f func(r [equations]float64) float64) (least float64, ok bool) {
	copy(s.x, s.start)
	for range 2 { // the second pass is for a parameter whose effect an earlier one's middle value hides
		for i := range s.x {
			low, high := s.first[i].support()
			s.x[i] = low
			r, ok := s.residual()
			if !ok {
				return 0, false
			}
			least = f(r)
			s.x[i] = high
			if r, ok = s.residual(); !ok {
				return 0, false
			}
			if f(r) > least {
				s.x[i] = low
			} else {
				least = f(r)
			}
		}
	}
	return least, true
}
