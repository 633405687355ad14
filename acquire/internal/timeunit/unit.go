// Package timeunit guesses the unit of times that nothing names, for tables and for streams alike.
package timeunit

import (
	"math"
	"slices"
	"strings"
	"sync"
)

// Unit is Times × 10^Power s.
type Unit struct {
	Power int
	Times int64 // 1, but for minutes and hours
}

// Seconds is the unit's length in s.
func (u Unit) Seconds() float64 {
	if u.Power < 0 { // one rounding, where the inverse is exact
		return float64(u.Times) / math.Pow10(-u.Power)
	}
	return float64(u.Times)
}

// Known lists the units in the words of messages and of help.
const Known = "s, ms, us, ns, min, h or day"

// symbols are matched as they stand; \xb5 is µ in an old code page.
var symbols = map[string]Unit{
	"s": {0, 1}, "S": {0, 1}, "ms": {-3, 1}, "us": {-6, 1}, "µs": {-6, 1}, "μs": {-6, 1}, "\xb5s": {-6, 1}, "uS": {-6, 1},
	"ns": {-9, 1}, "nS": {-9, 1}, "ps": {-12, 1}, "pS": {-12, 1}, "h": {0, 3600},
}

// words finds a unit by a word in small letters: for more than a second; for a fraction, the second left out; and for the second,
// short or long, or a fraction of it, in the languages that exports are labelled in.
var words = sync.OnceValue(func() map[string]Unit {
	m := map[string]Unit{"millis": {-3, 1}, "micros": {-6, 1}, "nanos": {-9, 1}}
	for _, w := range strings.Fields("min mins minute minutes") {
		m[w] = Unit{0, 60}
	}
	for _, w := range strings.Fields("hr hrs hour hours") {
		m[w] = Unit{0, 3600}
	}
	m["day"], m["days"] = Unit{0, daySeconds}, Unit{0, daySeconds}
	seconds := strings.Fields("sec secs second seconds sek sekunde sekunden sekunder sekund sekundy seconde secondes seconden secondo secondi seg segs segundo segundos")
	for power, prefixes := range map[int]string{0: "", -3: "m milli mili", -6: "u µ μ \xb5 micro mikro", -9: "n nano", -12: "p pico piko"} {
		for _, prefix := range strings.Split(prefixes, " ") {
			for _, w := range seconds {
				m[prefix+w] = Unit{power, 1}
			}
		}
	}
	return m
})

// Named finds a unit by its word.
func Named(word string) (Unit, bool) {
	u, ok := symbols[word]
	if !ok && len(word) > 2 {
		u, ok = words()[strings.ToLower(word)]
	}
	return u, ok
}

// Symbol writes a unit of so many seconds as it is asked for; empty: it is no second, nor a thousandth of one again and again.
func Symbol(seconds float64) string {
	for _, w := range []string{"s", "ms", "us", "ns"} {
		if math.Abs(symbols[w].Seconds()/seconds-1) < 1e-9 {
			return w
		}
	}
	return ""
}

// Guess is a unit that nothing states.
type Guess struct {
	Unit  string // its symbol
	Word  string // the same in a sentence
	Power int    // of ten that leads from it to seconds
}

var (
	nanoseconds  = Guess{"ns", "nanoseconds", -9}
	microseconds = Guess{"us", "microseconds", -6}
	milliseconds = Guess{"ms", "milliseconds", -3}
	seconds      = Guess{"s", "seconds", 0}
)

const (
	// long: decimals are seconds unless they step by as many of them.
	long = 500
	// Seconds of an epoch lie between the years 2000 and 2100, and step by less than often; so do its milliseconds and nanoseconds, in
	// whole numbers. A board's counter of microseconds reaches there too, in steps that small only after eleven days.
	epochFrom, epochTo = 946_684_800, 4_102_444_800
	often              = 100
	// A spreadsheet counts days from the end of 1899: those of the same years, and its seconds of a day may look alike.
	daysFrom, daysTo = 36_526, 73_050
	daySeconds       = 86_400
	dayPlaces        = 7 // decimals from which on days would tell pulses
)

// Written is how the numbers of a column are written.
type Written struct {
	Whole bool // all are whole numbers, and show it
	Power bool // some have a power of ten, as instruments print seconds
}

// Of guesses the unit of printed times or durations by how they are written; first is the first time, NaN for durations;
// usual is the usual step or duration. No bench prints whole seconds, except an epoch's.
func Of(w Written, first, usual float64) Guess {
	whole := w.Whole && !w.Power
	epoch := func(counts float64) bool {
		return whole && first >= epochFrom*counts && first <= epochTo*counts && usual < often*counts
	}
	switch {
	case w.Power, epoch(1):
		return seconds
	case epoch(1e3):
		return milliseconds
	case epoch(1e9):
		return nanoseconds
	case whole || usual >= long:
		return microseconds
	}
	return seconds
}

// PerhapsDays reports whether times with so many decimals, the first of them and their usual step, may be a spreadsheet's days as well as
// seconds of a day.
func PerhapsDays(places int, first, usual float64) bool {
	return places >= dayPlaces && first >= daysFrom && first <= daysTo && usual*daySeconds < often
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
