package stream

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/internal/timeunit"
)

// rateUnits in hertz, lower case.
var rateUnits = map[string]float64{"hz": 1, "khz": 1e3, "mhz": 1e6}

// voltUnits of a reading: the power of ten below the volt.
var voltUnits = map[string]int{"V": 0, "v": 0, "mV": 3, "mv": 3}

// voltUnit and lineUnit give a unit within a line, as a power of ten below the base unit and a factor. There "h" and "S" are
// states.
func voltUnit(word string) (below int, times int64, ok bool) {
	below, ok = voltUnits[word]
	return below, 1, ok
}

func lineUnit(word string) (below int, times int64, ok bool) {
	u, ok := timeunit.Named(word)
	return -u.Power, u.Times, ok && word != "h" && word != "S"
}

// ParseUnit reads the unit of a printed time: a unit ("us"), the length of a tick ("62.5ns") or the rate of
// the ticks ("2 MHz"). It returns seconds for one printed count.
func ParseUnit(s string) (float64, error) {
	t := strings.TrimSpace(s)
	if u, ok := timeunit.Named(t); ok {
		return u.Seconds(), nil
	}
	n, rest, ok := parseNumber([]byte(t))
	if ok && n.digits > 0 {
		unit := string(bytes.TrimSpace(rest))
		if u, ok := timeunit.Named(unit); ok {
			return n.float() * float64(u.Times) / math.Pow10(-u.Power), nil
		}
		if r, ok := rateUnits[strings.ToLower(unit)]; ok {
			return 1 / (n.float() * r), nil
		}
	}
	return 0, fmt.Errorf("unit %q; expected %s, the length of a tick (62.5ns) or its rate (2MHz)", s, timeunit.Known)
}

// timeWords stand before a unit in a column header or a banner; rateWords before a tick rate.
var (
	timeWords = map[string]bool{"t": true, "time": true, "times": true, "timestamp": true, "duration": true, "interval": true, "dt": true, "unit": true, "units": true, "in": true}
	rateWords = map[string]bool{"rate": true, "tick": true, "ticks": true, "counts": true, "cycles": true, "timebase": true, "samplerate": true}
)

// statedUnit finds a unit of time in a line that is no reading: a column header (time_us,level), a banner
// (unit: us; ticks in us) or a rate (rate 500000 Hz). It returns seconds for one printed count.
func statedUnit(line []byte) (float64, bool) {
	words := strings.FieldsFunc(string(line), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == 'µ' || r == 'μ')
	})
	rate := false
	for i, w := range words {
		low := strings.ToLower(w)
		if low == "micros" || low == "millis" {
			u, _ := timeunit.Named(low)
			return u.Seconds(), true
		}
		if i > 0 && timeWords[strings.ToLower(words[i-1])] {
			if u, ok := timeunit.Named(low); ok {
				return u.Seconds(), true
			}
		}
		if rateWords[low] {
			rate = true
			continue
		}
		if rate {
			if u, ok := tick(w, words[i+1:]); ok {
				return u, true
			}
		}
	}
	return 0, false
}

// tick reads "500000" "Hz" or "500kHz" or "0.5" "us".
func tick(w string, after []string) (float64, bool) {
	if u, err := ParseUnit(w); err == nil {
		_, bare := timeunit.Named(w)
		return u, !bare
	}
	if len(after) == 0 {
		return 0, false
	}
	if _, _, ok := parseNumber([]byte(w)); !ok {
		return 0, false
	}
	u, err := ParseUnit(w + after[0])
	return u, err == nil
}
