package fittest

import (
	"fmt"
	"math"
)

// Board is any board of one device, wired node by node. All units are SI; voltages are against the node "ground".
type Board struct {
	Held       map[string]float64 // nodes that sources hold, V; "ground" is 0 by itself
	Resistors  []Two              // ohm
	Capacitors []Two              // farad
	Diodes     []Two              // from anode to cathode; the forward drop in V, no resistance
	Draws      map[string]float64 // A that a pin takes out of its node

	Output           string  // the node that the device holds, at High or Low
	High, Low        float64 // V
	Switch           string  // the node that a switch ties to Saturation while the output is low; "": none
	Saturation, Ohm  float64 // V, ohm of the switch; 0 ohm: a wire
	FallWhen         []Test  // the output falls once all of these hold
	RiseWhen         []Test  // and rises once all of these do
	DelayFall, Delay float64 // s from there to the output's fall, and to its rise
}

// Two is an element between two nodes.
type Two struct {
	A, B  string
	Value float64
}

// Test holds when Left V(left) + … is at or above Right V(right) + …; an empty node stands for one volt.
type Test struct {
	Left    string
	LeftBy  float64
	Right   string
	RightBy float64
}

// StopError says that a board does not run, and where it came to rest.
type StopError struct {
	OutputLow bool
	Rest      map[string]float64 // V of every free node
}

func (e *StopError) Error() string {
	state := "high"
	if e.OutputLow {
		state = "low"
	}
	return fmt.Sprintf("the board stops with its output %s: %v", state, e.Rest)
}

// Limits of a run.
const (
	boardCycles = 400
	stopped     = 400   // time constants without a switch
	repeats     = 3e-12 // relative change of a cycle's times that ends the run
	noise       = 1e-13 // the same of the longest time constant: of a cycle that is short against it
	remainder   = 1e-9  // relative, of a time to where it settles
	adrift      = 1e4   // of the output's swing: a node that a drawn current alone moves
	tieOhm      = 1     // of a diode between two held nodes or two with capacitors
	slackVolt   = 1e-9
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
