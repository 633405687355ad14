package posterior

import (
	"math"

	"offbeat/fit/circuit"
)

// oddTrain is how often a board whose pulses hold two samples shows no steady train for all that (common practice).
const oddTrain = 0.02

// coarse is the logarithm of the likelihood of a board's showing no steady train in samples that lie so far apart. A board
// whose pulses the samples cannot hold is none of a hypothesis that takes the capture for what it is; one that takes it for
// something else shows times of nought.
func (s *system) coarse(v *circuit.Values, interval float64) float64 {
	high, low, ok := s.circuit.Times(v)
	if ok && s.see != nil {
		high, low, ok = s.see(v, high, low)
	}
	if s.circuit.OnePulse {
		low = high
	}
	switch {
	case ok && high == 0:
		return 0
	case ok && min(high, low) >= 2*interval:
		return math.Log(oddTrain)
	}
	return math.Inf(-1)
}

// still is the logarithm of the likelihood of the problem's bounds at the point z. A board that comes to rest shows no
// edge for sure. One that runs does so from a moment that the user did not choose with the chance that all of the time falls
// into one half-cycle, ((high - T)+ + (low - T)+) / (high + low); a single pulse, once triggered, if it is longer.
func (s *system) still(z []float64) float64 {
	sum := 0.0
	for i := range s.problem.Bounds {
		b := &s.problem.Bounds[i]
		s.fill(z)
		w := &s.changed
		if *w = s.trial; b.Adjust != nil {
			b.Adjust(w, s.extra)
		}
		if b.Coarse > 0 {
			sum += s.coarse(w, b.Coarse)
			continue
		}
		high, low, ok := s.circuit.Times(w)
		if !ok && s.circuit.Stands(w) {
			continue
		}
		if !ok {
			return math.Inf(-1)
		}
		p := 0.0
		if s.circuit.OnePulse {
			if high > b.Still {
				p = 1
			}
		} else {
			p = (max(high-b.Still, 0) + max(low-b.Still, 0)) / (high + low)
		}
		sum += math.Log(p)
	}
	return sum
}
