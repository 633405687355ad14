package fittest

import "fmt"

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
	// stepTolerance is the error allowed to each step, of the output's swing. A state takes some ten of them, so that its end is
	// good to about 1e-11 of the swing, and its time to about 1e-11.
	stepTolerance = 1e-12
	rounding      = 2e-14 // of the swing: what the equations are solved to
)
