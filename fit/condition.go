package fit

// ConditionKind is how one capture's circumstances differ from the design's.
type ConditionKind int

// The order is that in which they take effect.
const (
	SupplyAt    ConditionKind = iota // the supply, V
	Temperature                      // of the board, °C; every part follows its temperature coefficient from 25 °C, a leak grows
	Warmed                           // one part alone at that temperature, °C
	Fraction                         // a part at that fraction of its value: a potentiometer's position
	Swapped                          // a known part in the place of another, ohm or farad; a capacitor's leak goes with it
	InSeries                         // a known part added in series, ohm or farad
	InParallel                       // a known part added across, ohm or farad
	Bypassed                         // a known resistor across a capacitor, such as a probe, ohm
	ToGround                         // a known resistor from a node to ground, ohm
	StrayTo                          // a known capacitance from a node to ground, farad
	HeldAt                           // a node driven to a voltage, V
	ControlAt                        // the control pin driven to a voltage, V
	OtherClock                       // taken with another instrument: its clock's relative limit, rectangular
)

// Condition holds for one capture alone. Conditions of the same kind, part and value, on several captures, are one
// and the same thing: their common error does not average out.
type Condition struct {
	Text  string // as written, for messages
	Kind  ConditionKind
	Part  string  // Warmed, Fraction, Swapped, InSeries, InParallel, Bypassed: the part concerned; ToGround, StrayTo, HeldAt: the node
	Known Reading // the value with its limits; both 0: exact. OtherClock: Value is the limit
}

// ReferenceTemperature is where parts have their values, in °C (common practice: most data sheets).
const ReferenceTemperature = 25
