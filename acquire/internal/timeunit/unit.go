package timeunit

import (
	"math"
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
const Known = "s, ms, us, ns, min or h"

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
