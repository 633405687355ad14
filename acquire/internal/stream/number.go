package stream

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"offbeat/acquire/internal/timeunit"
)

// number is a decimal as printed: digits × 10^-places; where a unit of time was
// written behind it, converted to seconds.
type number struct {
	digits int64
	places int
	signed bool // a sign was printed
	unit   bool // a unit was written: the number is in seconds
	power  bool // a power of ten was written
}

func (n number) float() float64 { return float64(n.digits) / math.Pow10(n.places) }

// minus is n-m in printed units, exact where both have the same places and the difference fits 53 bits.
func (n number) minus(m number) float64 {
	if n.places == m.places {
		return float64(n.digits-m.digits) / math.Pow10(n.places)
	}
	return n.float() - m.float()
}

// maxDigits keeps a number inside an int64.
const maxDigits = 18

// parseNumber reads a decimal at the start of b and returns what follows it. Only digits, one point and a
// sign make a number here, or 0x and its digits: no exponent beyond e±dd, no "inf", "nan" or digit grouping.
func parseNumber(b []byte) (n number, rest []byte, ok bool) {
	i, minus := 0, false
	if i < len(b) && (b[i] == '+' || b[i] == '-') {
		minus, n.signed = b[i] == '-', true
		i++
	}
	if !n.signed {
		if digits, ok := bytes.CutPrefix(b, []byte("0x")); ok {
			return hexadecimal(digits)
		}
	}
	digits, point := 0, false
	for ; i < len(b); i++ {
		c := b[i]
		if c == '.' && !point {
			point = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		if digits++; digits > maxDigits {
			return number{}, nil, false
		}
		n.digits = n.digits*10 + int64(c-'0')
		if point {
			n.places++
		}
	}
	if digits == 0 {
		return number{}, nil, false
	}
	if minus {
		n.digits = -n.digits
	}
	if n, b, ok = exponent(n, b[i:]); !ok {
		return number{}, nil, false
	}
	return n, b, true
}

// hexadecimal reads what follows "0x".
func hexadecimal(b []byte) (n number, rest []byte, ok bool) {
	i := 0
	for ; i < len(b); i++ {
		k := bytes.IndexByte([]byte("0123456789abcdef"), b[i]|0x20)
		if k < 0 || b[i] < '0' {
			break
		}
		n.digits = n.digits<<4 | int64(k)
	}
	return n, b[i:], i > 0 && i < 16
}

// exponent reads e±dd, if it is there, and folds it into the places.
func exponent(n number, b []byte) (number, []byte, bool) {
	if len(b) < 2 || b[0]|0x20 != 'e' || !(b[1] == '-' || b[1] == '+' || b[1] >= '0' && b[1] <= '9') {
		return n, b, true
	}
	i, minus, e := 1, false, 0
	if b[1] == '-' || b[1] == '+' {
		minus = b[1] == '-'
		i++
	}
	first := i
	for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
		if e = e*10 + int(b[i]-'0'); e > maxDigits {
			return n, nil, false
		}
	}
	if i == first {
		return n, nil, false
	}
	if minus {
		e = -e
	}
	n.power = true
	for n.places -= e; n.places < 0; n.places++ {
		if n.digits > math.MaxInt64/10 || n.digits < math.MinInt64/10 {
			return n, nil, false
		}
		n.digits *= 10
	}
	return n, b[i:], true
}

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
	rateWords = map[string]bool{"rate": true, "clock": true, "tick": true, "ticks": true, "counts": true, "cycles": true, "timebase": true, "samplerate": true}
)

// statedUnit finds a unit of time in a line that is no reading: a column header (time_us,level), a banner
// (unit: us; ticks in us) or a rate (rate 500000 Hz). It returns seconds for one printed count.
func statedUnit(line []byte) (float64, bool) {
	words := wordsOf(line)
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

// wordsOf cuts a line at what is no letter or digit.
func wordsOf(line []byte) []string {
	return strings.FieldsFunc(string(line), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == 'µ' || r == 'μ')
	})
}

// samplesApart finds the interval or the rate of samples in a line that is no reading, "Sample Interval 1.000 ms", in s.
func samplesApart(line []byte) (float64, bool) {
	if !sampling.Match(line) {
		return 0, false
	}
	words := wordsOf(line)
	for i, w := range words {
		if u, ok := tick(w, words[i+1:]); ok && w[0]-'0' <= 9 {
			return u, true
		}
	}
	return 0, false
}

// sampling: a line that speaks of it, in the languages that exports are labelled in.
var sampling = regexp.MustCompile(`(?i)sampl|abtast|chantillon|muestre|campion|bemonster|interval`)

// namesTicks reports whether one of the names of a line of names is that of a timer's ticks.
func namesTicks(line []byte) bool {
	return bytes.IndexAny(line, ",;\t|") > 0 && slices.ContainsFunc(bytes.FieldsFunc(bytes.ToLower(line), func(r rune) bool { return strings.ContainsRune(",;\t|", r) }), func(name []byte) bool {
		last := bytes.Fields(bytes.Trim(name, " \"\r"))
		return len(last) > 0 && len(last) < 3 && string(last[len(last)-1]) == "ticks"
	})
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
