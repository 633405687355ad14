package quantity

import "strings"

// Tolerance is how far a value may lie from what is written.
type Tolerance struct {
	Minus, Plus float64 // downwards and upwards, both positive; both 0: none was given
	Relative    bool    // to the value (0.1 is 10 %); otherwise in the value's SI unit
	Coverage    float64 // coverage factor k of an expanded uncertainty; 0: limits, rectangular
}

// Given says whether there is a tolerance.
func (t Tolerance) Given() bool { return t.Plus != 0 || t.Minus != 0 }

// RelativeTo is the tolerance relative to the value.
func (t Tolerance) RelativeTo(value float64) (minus, plus float64) {
	if t.Relative {
		return t.Minus, t.Plus
	}
	return t.Minus / value, t.Plus / value
}

// Absolute is the tolerance in the value's unit.
func (t Tolerance) Absolute(value float64) (minus, plus float64) {
	if !t.Relative {
		return t.Minus, t.Plus
	}
	return t.Minus * value, t.Plus * value
}

// letter is one tolerance letter of IEC 60062:2016 clause 5.
type letter struct {
	minus, plus float64 // percent, or pF below 10 pF
	unit        Unit    // the only unit it is used with; Number: any
	picofarad   float64 // absolute tolerance of a capacitor below 10 pF, pF; 0: percent there too
}

// letters: B C D F G J K M as seen in an EIA code list and a maker's part-number legend; the others from memory.
var letters = map[string]letter{
	"L": {0.01, 0.01, Ohm, 0},
	"P": {0.02, 0.02, Ohm, 0},
	"W": {0.05, 0.05, Ohm, 0},
	"B": {0.1, 0.1, Number, 0.1},
	"C": {0.25, 0.25, Number, 0.25},
	"D": {0.5, 0.5, Number, 0.5},
	"F": {1, 1, Number, 1},
	"G": {2, 2, Number, 2},
	"H": {3, 3, Number, 0},
	"J": {5, 5, Number, 0},
	"K": {10, 10, Number, 0},
	"M": {20, 20, Number, 0},
	"N": {30, 30, Number, 0},
	"Q": {10, 30, Farad, 0},
	"T": {10, 50, Farad, 0},
	"S": {20, 50, Farad, 0},
	"Z": {20, 80, Farad, 0},
}

// attached are the letters that may follow a prefix with no space between ("100nK", "47kJ"). The others
// are also symbols of units: "10kF" is a mistaken kilofarad rather than 10 k ± 1 %.
const attached = "BDGJKMNPQZ"

// letterTolerance looks a letter up for a value in SI units. Tolerances in per cent are divided exactly as
// the decimal text would be.
func letterTolerance(w string, unit Unit, value float64) (Tolerance, bool) {
	l, ok := letters[w]
	if !ok || !units[unit].coded || l.unit != Number && l.unit != unit {
		return Tolerance{}, false
	}
	if unit == Farad && value < 10e-12 && l.picofarad > 0 {
		return Tolerance{Minus: l.picofarad / 1e12, Plus: l.picofarad / 1e12}, true
	}
	return Tolerance{Minus: l.minus / 100, Plus: l.plus / 100, Relative: true}, true
}

// lettersOf lists the letters of a unit for messages.
func lettersOf(unit Unit) string {
	var b strings.Builder
	for _, c := range "BCDFGHJKLMNPQSTWZ" {
		if l := letters[string(c)]; l.unit == Number || l.unit == unit {
			if b.Len() > 0 {
				b.WriteByte(' ')
			}
			b.WriteRune(c)
		}
	}
	return b.String()
}

// Quantity is a value in its SI unit, with the tolerance that was written beside it.
type Quantity struct {
	Value     float64
	Unit      Unit
	Tolerance Tolerance
	Text      string // as written
}
