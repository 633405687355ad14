package circuit

import "math"

// Slot is the place of one physical quantity in Values. Slots 0, 1, 2 … hold the circuit's parts in the order of
// Circuit.Parts, in ohm or farad, and behind them, up to MaxParts, what else its wiring brings: held nodes, the positions
// of potentiometers, further diodes. The named slots mean the same in every circuit.
type Slot int

// MaxParts is how many slots a circuit has for what its wiring brings.
const MaxParts = 44

const (
	Supply           Slot = iota + MaxParts // V
	Minus                                   // V, the negative rail; 0 where there is none
	Upper                                   // upper threshold (control pin) as a ratio to the supply
	Half                                    // lower threshold as a ratio to the upper one
	SwitchVoltage                           // V, constant part of the discharge switch's (multivibrator: the on transistor's) saturation voltage
	SwitchResistance                        // ohm, its on-resistance; the resistor on the discharge pin still feeds it
	DelayFall                               // s, from crossing the upper threshold to the output's fall
	DelayRise                               // s, from crossing the lower threshold to the output's rise
	Bias                                    // A, drawn from the capacitor's node by the threshold pin or the input on it
	OtherBias                               // A, drawn by a comparator's other input
	DiodeDrop                               // V, constant forward drop of the first diode
	OutputDrop                              // V, by which the output's high level stays below the supply (multivibrator: by which that collector's swing is less)
	OutputHigh                              // V against ground, its high level where the design states one
	OutputLow                               // V, its low level above ground or the negative rail; against ground where the design states it (multivibrator: as OutputDrop, of the other collector)
	Ladder                                  // ohm, the three resistors inside a timer together, whose taps are the thresholds
	Breakdown                               // V at which its reversed base-emitter junction breaks down; 0: never
	BaseEmitter                             // V at which a transistor of the multivibrator turns on
	Collector                               // ohm, the resistor of each of its collectors; 0: a collector follows at once

	// Faults; 0 means absent.
	LeakRatio // resistance across the capacitor over the actual charging resistance
	WeakRatio // extra resistance of the discharge switch over that between its pin and the timing node
	Contact   // resistance in series with the timing capacitor over what it charges through; 0 means none
	Stray     // F, from the timing node to ground
	Surplus   // V, forward drop of a diode that the drawing does not hold (see Circuit.Across)
	Loads     // the number of the set of loads that hangs on the board, from 1 (see Loaded)
	Clock     // natural logarithm of the factor by which the instrument's clock stretches every measured time

	slots
)

// Values is one physical instance of a circuit, each slot in its SI unit.
type Values [slots]float64

// Ideal returns values with the given supply, ideal thresholds and no second-order term; the parts are zero.
func Ideal(supply float64) Values {
	var v Values
	v[Supply], v[Upper], v[Half], v[Ladder] = supply, 2./3, 1./2, 15e3
	return v
}

// stretch applies the instrument's clock to a true time.
func (v *Values) stretch(t float64) float64 {
	if v[Clock] == 0 {
		return t
	}
	return t * math.Exp(v[Clock])
}
