package timeunit

import "math"

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
const Known = "s, ms, us, ns, min or h"

// units by their spellings; \xb5 is µ in an old code page.
var units = func() map[string]Unit {
	m := map[string]Unit{}
	for unit, words := range map[Unit][]string{
		{0, 1}:    {"s", "S", "sec", "Sec", "secs", "second", "Second", "seconds", "Seconds"},
		{-3, 1}:   {"ms", "msec", "millis", "millisecond", "milliseconds", "Milliseconds"},
		{-6, 1}:   {"us", "µs", "μs", "\xb5s", "uS", "usec", "micros", "microsecond", "microseconds", "Microseconds"},
		{-9, 1}:   {"ns", "nS", "nsec", "nanos", "nanosecond", "nanoseconds", "Nanoseconds"},
		{-12, 1}:  {"ps", "pS", "picosecond", "picoseconds"},
		{0, 60}:   {"min", "Min", "mins", "minute", "Minute", "minutes", "Minutes"},
		{0, 3600}: {"h", "hr", "hrs", "hour", "Hour", "hours", "Hours"},
	} {
		for _, w := range words {
			m[w] = unit
		}
	}
	return m
}()

// Named finds a unit by its word.
func Named(word string) (Unit, bool) {
	u, ok := units[word]
	return u, ok
}
