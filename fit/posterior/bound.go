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

// otherwise is how often a board that comes to rest stands at the other level than its law says: a leak where nothing else reaches a
// node, or a buffer that inverts (common practice).
const otherwise = 0.05

// stands is how likely a board that rests in a state, 0 where that is not known, was seen to stand as it did.
func stands(state, seen int) float64 {
	switch {
	case seen == 0:
		return 1
	case state == 0:
		return 0.5
	case state == seen:
		return 1 - otherwise
	}
	return otherwise
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
		if !ok {
			state, rests := s.circuit.Rests(w)
			if !rests {
				return math.Inf(-1)
			}
			sum += math.Log(stands(state, b.State))
			continue
		}
		p := 0.0
		if s.circuit.OnePulse {
			if high > b.Still {
				p = 1
			}
		} else {
			if b.State >= 0 {
				p += max(high-b.Still, 0)
			}
			if b.State <= 0 {
				p += max(low-b.Still, 0)
			}
			p /= high + low
		}
		sum += math.Log(p)
	}
	return sum
}
