package fit

import (
	"offbeat/acquire/quantity"
	"offbeat/fit/wiring"
)

// PartKind is what a part's value is measured in.
type PartKind int

const (
	Resistor  PartKind = iota // ohm
	Capacitor                 // farad
)

// Unit is the kind's.
func (k PartKind) Unit() quantity.Unit {
	if k == Capacitor {
		return quantity.Farad
	}
	return quantity.Ohm
}

// Part is one component of a design: what the schematic says.
type Part struct {
	Name    string // the circuit's own name: R1, R2, C1
	Kind    PartKind
	Class   string  // "film", "electrolytic" …; empty: the kind's usual class
	Nominal float64 // ohm or farad
	Minus   float64 // relative tolerance downwards, positive: 0.1 is -10 %
	Plus    float64 // relative tolerance upwards, positive
	Tempco  float64 // 1/K
	// A potentiometer used as a variable resistor has a Track in ohm, and a Position of its wiper, 0 … 1, that Nominal
	// stands for; the Position's Value is 0 where nobody read it. Track.Value 0: no potentiometer. One whose three ends are
	// wired apart has its track in Nominal, no Track, and a Position from its first end.
	Track, Position Reading
}

// Low is the smallest value in tolerance.
func (p Part) Low() float64 { return p.Nominal * (1 - p.Minus) }

// High is the largest value in tolerance.
func (p Part) High() float64 { return p.Nominal * (1 + p.Plus) }

// Look is what a look at a part, or at the board where Part is empty, showed: Found is its telling outcome.
type Look struct {
	Name, Part string
	Found      bool
}

// Still is an output that showed no pulse for so many seconds, under conditions of its own.
type Still struct {
	Seconds    float64
	State      int     // 1: it stood high, -1: low; 0: not known
	Seen       bool    // in a capture, which may be of anything
	Interval   float64 // s between the samples of a capture that shows no steady train, of which nothing more is known; 0: it stood still
	Conditions []Condition
}

// Coarse is how far apart the samples lie of a capture that shows no steady train; 0: there is none.
func (d *Design) Coarse() float64 {
	for _, s := range d.Stills {
		if s.Interval > 0 {
			return s.Interval
		}
	}
	return 0
}

// Target is a wanted quantity with its limits: frequency (Hz), period, high_time, low_time (s), duty_factor (ratio).
type Target struct {
	Quantity string
	Value    float64
	Low      float64 // smallest value that passes
	High     float64 // largest value that passes
}

// Node is a node that a source holds at a voltage, in V against ground or as a ratio to the supply.
type Node struct {
	Reading
	Ratio bool // Value is a ratio to the supply
}

// Diode is what a design says of a diode of its wiring: its kind, or its drop in V. Neither: the usual kind, and ideal in
// the ideal family.
type Diode struct {
	Name string
	Kind string  // Silicon, Schottky, LED, IdealDiode; empty: not said
	Drop Reading // Value 0: not stated
}

// Kinds of diodes.
const (
	Silicon    = "silicon"
	Schottky   = "schottky"
	LED        = "led"
	IdealDiode = "ideal"
)

// Family of the timer: sets which second-order terms exist and their priors.
const (
	Bipolar = "bipolar"
	CMOS    = "cmos"
	OpAmp   = "opamp" // an operational amplifier as comparator: its output stays short of the rails
	Ideal   = "ideal"
)

// History of the board: sets the prior odds.
const (
	New    = "new"    // a fresh build, never seen to be right
	Worked = "worked" // it used to be right
)

// Inputs of a latch: the level at which they act.
const (
	ActiveLow  = "active low"
	ActiveHigh = "active high"
)

// Design is what the schematic and the builder say: the circuit, its parts, the target, the instrument.
type Design struct {
	Title      string
	File       string         // where it was read from, for messages
	Circuit    string         // the name of a circuit of the documentation; empty where Wiring says what the board is
	Wiring     *wiring.Wiring // the board as it is wired; nil: the circuit of that name
	Family     string
	AnyFamily  bool // it was not said: Family is the usual one, and others of the circuit may be fitted
	History    string
	Supply     Reading // V; Value 0 where not given
	Minus      Reading // V, the negative rail, below zero; Value 0: there is none
	Nodes      []Node  // other held nodes of a wiring
	Parts      []Part  // in the circuit's own order: of a wiring its resistors, potentiometers and capacitors
	Diodes     []Diode // of a wiring, those of which the design says something
	Targets    []Target
	Was        []Target // what a board that worked used to show, with limits, where no earlier result was kept
	Clock      string   // as written: "crystal", "50 ppm"
	ClockLimit float64  // relative limit, rectangular half-width
	// Of the channel that shows the capacitor: relative limit of its scale, and limit of its zero as a share of the supply, rectangular
	// half-widths; 0: ChannelScale and ChannelZero.
	Scale, Zero float64
	Instrument  string  // its name, for the record; empty: not given
	Calibrated  string  // when it was last calibrated, a date of ISO 8601; empty: not given
	Settled     float64 // probability from which one cause counts as found, so that the advice is its repair; 0: 0.95
	Readings    []Reading
	Looks       []Look             // what was seen of the board
	Stills      []Still            // when its output stood still
	Upper       Reading            // the timer's upper threshold as a ratio to the supply, where the design states it; else Value 0
	Lower       Reading            // the lower one, likewise
	OutputHigh  *Reading           // V against ground, the output's high level, where the design states it
	OutputLow   *Reading           // V against ground, its low level, likewise
	Inputs      string             // of a latch: ActiveLow or ActiveHigh
	Odds        map[string]float64 // as written in [odds]: "shifted.C1", "other_value" …; nil: defaults
	Notes       []string           // what was assumed where the design is silent
}

// Part returns the part of that name, or nil.
func (d *Design) Part(name string) *Part {
	for i := range d.Parts {
		if d.Parts[i].Name == name {
			return &d.Parts[i]
		}
	}
	return nil
}

// What a channel of a digital oscilloscope with its probe is good to (common practice, from data sheets' limits): its scale,
// and its zero as a share of the supply.
const (
	ChannelScale = 0.03
	ChannelZero  = 0.01
)

// Channel is the limits of the channel that shows the capacitor, as stated or by default.
func (d *Design) Channel() (scale, zero float64) {
	scale, zero = ChannelScale, ChannelZero
	if d.Scale > 0 {
		scale = d.Scale
	}
	if d.Zero > 0 {
		zero = d.Zero
	}
	return scale, zero
}
