package fittest

import (
	"fmt"
	"math"
)

// Cycle follows the board from power-up, all capacitors empty and the output high or low, until a cycle repeats, and gives
// the output's high and low time.
func (b *Board) Cycle(fromLow bool) (high, low float64, err error) {
	s, err := b.system()
	if err != nil {
		return 0, 0, err
	}
	return s.cycle(fromLow)
}

// cycle follows the board from power-up until a cycle repeats.
func (s *system) cycle(fromLow bool) (high, low float64, err error) {
	s.power(fromLow)
	var last [2]float64
	isLow := fromLow
	for k := range 2 * boardCycles {
		took, err := s.half(isLow, k == 0)
		if err != nil {
			return 0, 0, err
		}
		i := 0
		if isLow {
			i = 1
		}
		change := math.Abs(took - last[i])
		// What is still to come is about the change times the cycles that the slowest time constant holds.
		settled := change <= repeats*took+noise*s.slow && change*s.slow <= remainder*took*(last[0]+last[1])
		other := last[1-i]
		last[i] = took
		if settled && k > 3 && s.steady && other > 0 && isLow {
			return last[0], last[1], nil
		}
		s.steady = settled
		isLow = !isLow
	}
	return 0, 0, fmt.Errorf("fittest: no cycle repeats within %d", boardCycles)
}

// Pulse is the high time that follows a trigger, from where the low state comes to rest.
func (b *Board) Pulse() (high float64, err error) {
	s, err := b.system()
	if err != nil {
		return 0, err
	}
	s.power(true)
	if err := s.rest(); err != nil {
		return 0, err
	}
	return s.half(false, false)
}
