// Package timeunit guesses the unit of times that nothing names, for tables and for streams alike.
package timeunit

import (
	"math"
	"slices"
)

// Guess is a unit that nothing states.
type Guess struct {
	Unit  string // "us" or "s"
	Word  string // the same in a sentence
	Power int    // of ten that leads from it to seconds
}

var (
	microseconds = Guess{"us", "microseconds", -6}
	seconds      = Guess{"s", "seconds", 0}
)

const (
	// long: decimals are seconds unless they step by as many of them.
	long = 500
	// Whole seconds of an epoch lie between the years 2000 and 2100, and step by less than often. A board's counter
	// reaches there too, but not in steps that small.
	epochFrom, epochTo = 946_684_800, 4_102_444_800
	often              = 100
)

// Written is how the numbers of a column are written.
type Written struct {
	Whole bool // all are whole numbers, and show it
	Power bool // some have a power of ten, as instruments print seconds
}

// Of guesses the unit of printed times or durations by how they are written; first is the first time, NaN for durations;
// usual is the usual step or duration. No bench prints whole seconds, except an epoch's.
func Of(w Written, first, usual float64) Guess {
	switch whole := w.Whole && !w.Power; {
	case w.Power:
		return seconds
	case whole && first >= epochFrom && first <= epochTo && usual < often:
		return seconds
	case whole || usual >= long:
		return microseconds
	}
	return seconds
}

// Usual is the median of the sizes of steps or durations; 0 if there are none.
func Usual(steps []float64) float64 {
	if len(steps) == 0 {
		return 0
	}
	s := make([]float64, len(steps))
	for i, x := range steps {
		s[i] = math.Abs(x)
	}
	slices.Sort(s)
	return s[len(s)/2]
}

// Note is what a user should know of a guess about the numbers that what names.
func (g Guess) Note(what string) string { return "the unit of " + what + " is a guess: " + g.Word }

// Short is the same for a single line.
func (g Guess) Short() string { return "time unit guessed: " + g.Word }
