package stream

import (
	"bytes"
	"math"
	"unicode/utf8"
)

// formSet is the set of forms that a line could have.
type formSet uint8

const (
	canLevel    formSet = 1 << iota // time and a state
	canReading                      // time and a number that is no state
	canPulse                        // a state and a duration (or a time)
	canDuration                     // a number alone
)

// reading is what one line says.
type reading struct {
	can   formSet
	num   number  // time, or the duration of a canDuration line
	last  number  // duration of a canPulse line
	state int8    // 0 or 1; -1 where the line has none
	value float64 // state or reading of a canLevel or canReading line
	volts bool    // value had a unit of voltage
	name  string  // channel, where the line names one
	after bool    // a garbled line stands before it: that may have hidden edges
	index int64   // of a line that counts itself before its time; 0: it does not
	named bool    // the line names its values: no other line of the record is chatter that looks like one
}

// states are the words for a level.
var states = map[string]int8{
	"0": 0, "l": 0, "lo": 0, "low": 0, "fall": 0, "falling": 0, "f": 0, "off": 0, "space": 0,
	"1": 1, "h": 1, "hi": 1, "high": 1, "rise": 1, "rising": 1, "r": 1, "on": 1, "mark": 1,
}

// parseLine says what a line means; ok is false where it is no reading. It allocates only for named channels.
func parseLine(b []byte) (r reading, ok bool) {
	b = bytes.Trim(b, " \t")
	b, loose := stripStamp(b)
	if len(b) == 0 {
		return r, false
	}
	switch c := b[0]; {
	case c == '@':
		r, ok = parseIndexed(b[1:])
	case clockLength(b) > 0:
		r, ok = parseClock(b)
	case c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.':
		r, ok = parseNumeric(b)
	default:
		r, ok = parsePulse(b)
	}
	// "10:00:01.25 1" may be a clock and a state: what follows a clock and a blank must be a whole reading.
	if loose && r.can&canDuration != 0 {
		return reading{}, false
	}
	return r, ok
}

// parseNumeric reads a line that begins with a number.
func parseNumeric(b []byte) (r reading, ok bool) {
	n, rest, ok := parseNumber(b)
	if !ok {
		return r, false
	}
	if n, rest, ok = cutTime(n, rest); !ok {
		return r, false
	}
	r = reading{num: n, state: -1}
	if len(rest) == 0 {
		r.can = canDuration
		if n.signed {
			r.state = 1
			if n.digits < 0 {
				r.state, r.num.digits = 0, -n.digits
			}
		}
		return r, true
	}
	second := bytes.TrimLeft(rest, cellEnds)
	if len(second) == len(rest) || len(second) == 0 {
		return r, false
	}
	if s, ok := state(second); ok {
		r.can, r.state, r.value = canLevel, s, float64(s)
		return r, true
	}
	v, rest, ok := parseNumber(second)
	if !ok {
		return r, false
	}
	if n.places == 0 && !n.signed && !n.unit {
		t, rest, ok := cutTime(v, rest)
		third := bytes.TrimLeft(rest, cellEnds)
		if s, level := state(third); ok && level && len(third) < len(rest) && t.digits > 1 {
			r.can, r.num, r.index, r.state, r.value = canLevel, t, n.digits+1, s, float64(s)
			return r, true
		}
	}
	if below, _, said, after, ok := cutUnit(rest, voltUnit); ok && len(after) == 0 {
		w := v
		w.places += below
		r.can, r.value, r.volts = canReading, w.float(), said
	}
	// "1,8700" may also be a state and a duration: window decides.
	if n.places == 0 && !n.signed && (n.digits == 0 || n.digits == 1) && !v.signed && !r.volts {
		if v, rest, ok = cutTime(v, rest); ok && len(rest) == 0 && v.digits > 1 {
			r.can |= canPulse
			r.last, r.state = v, int8(n.digits)
		}
	}
	return r, r.can != 0
}

// cellEnds stand between what a line holds.
const cellEnds = " \t,;"

// parseClock reads a time of day that is the time itself, parted from a level by more than a blank.
func parseClock(b []byte) (r reading, ok bool) {
	n := clockLength(b)
	rest := bytes.TrimLeft(b[n:], "\t,;")
	s, ok := state(bytes.TrimLeft(rest, " "))
	if !ok || len(rest) == len(b)-n {
		return r, false
	}
	of := func(b []byte) int64 { return int64(b[0]-'0')*10 + int64(b[1]-'0') }
	t := number{digits: of(b)*3600 + of(b[3:])*60 + of(b[6:]), unit: true}
	for _, c := range b[min(9, n):min(n, 18)] {
		t.digits, t.places = t.digits*10+int64(c-'0'), t.places+1
	}
	return reading{can: canLevel, num: t, state: s, value: float64(s)}, true
}

// parsePulse reads a state word and a number.
func parsePulse(b []byte) (r reading, ok bool) {
	i := bytes.IndexAny(b, pulseEnds)
	if i <= 0 {
		return r, false
	}
	s, ok := state(b[:i])
	if !ok {
		return parseChannel(b, i)
	}
	n, rest, ok := parseNumber(bytes.TrimLeft(b[i:], pulseEnds))
	if !ok || n.signed {
		return r, false
	}
	if n, rest, ok = cutTime(n, rest); !ok || len(rest) > 0 {
		return r, false
	}
	return reading{can: canPulse, last: n, state: s}, true
}

// pulseEnds stand behind the word for a level.
const pulseEnds = cellEnds + ":=@"

// parseChannel reads "A,1234567,1": the name of a channel in one or two characters, then commas alone.
func parseChannel(b []byte, end int) (r reading, ok bool) {
	if end > 2 || b[end] != ',' || end+1 == len(b) || b[end+1] < '0' || b[end+1] > '9' || bytes.IndexByte(b, ' ') >= 0 {
		return r, false
	}
	if r, ok = parseNumeric(b[end+1:]); r.can != canLevel || r.index > 0 {
		return reading{}, false
	}
	r.name = string(b[:end])
	return r, ok
}

// parseIndexed reads "37 00 -> 01 D0": index, old states, new states, the channel that changed. Where the
// channel is "D" and a number, that counts the bits from the right; else the bit that changed is taken.
func parseIndexed(b []byte) (r reading, ok bool) {
	n, rest, ok := parseNumber(b)
	if !ok || n.signed || n.places > 0 {
		return r, false
	}
	f := bytes.Fields(rest)
	if len(f) < 3 || len(f) > 4 || string(f[1]) != "->" || len(f[0]) != len(f[2]) || !bits(f[0]) || !bits(f[2]) {
		return r, false
	}
	bit := -1
	for i := range f[0] {
		if f[0][i] != f[2][i] {
			bit = i
		}
	}
	r = reading{can: canLevel, num: n}
	if len(f) == 4 {
		r.name = string(f[3])
		if k, rest, ok := parseNumber(f[3][1:]); ok && f[3][0] == 'D' && len(rest) == 0 && k.digits < int64(len(f[0])) {
			bit = len(f[0]) - 1 - int(k.digits)
		}
	}
	if bit < 0 {
		return reading{}, false
	}
	r.state = int8(f[2][bit] - '0')
	r.value = float64(r.state)
	return r, true
}

func bits(b []byte) bool { return len(b) > 0 && len(bytes.Trim(b, "01")) == 0 }

// state reads a word for a level, in either case.
func state(b []byte) (int8, bool) {
	var low [8]byte
	if len(b) == 0 || len(b) > len(low) {
		return 0, false
	}
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			c |= 0x20
		}
		low[i] = c
	}
	s, ok := states[string(low[:len(b)])]
	return s, ok
}

// cutUnit takes a unit off the start of b, as a power of ten below the base unit and a factor. said is false where no
// letters stand there, and that is fine; letters that are no unit are not.
func cutUnit(b []byte, unit func(word string) (below int, times int64, ok bool)) (below int, times int64, said bool, rest []byte, ok bool) {
	t := bytes.TrimLeft(b, " ")
	i := 0
	for i < len(t) && (t[i] >= 'a' && t[i] <= 'z' || t[i] >= 'A' && t[i] <= 'Z' || t[i] >= 0x80) {
		i++
	}
	if i == 0 {
		return 0, 1, false, b, true
	}
	if below, times, ok := unit(string(t[:i])); ok {
		return below, times, true, t[i:], true
	}
	if _, ok := state(t[:i]); ok && len(t) < len(b) {
		return 0, 1, false, b, true // "1234 H"
	}
	return 0, 1, false, nil, false
}

// cutTime takes a unit of time off the start of b and turns n into seconds by it.
func cutTime(n number, b []byte) (number, []byte, bool) {
	below, times, said, rest, ok := cutUnit(b, lineUnit)
	if said {
		n.unit, n.places = true, n.places+below
		if n.digits, ok = n.digits*times, ok && n.digits < math.MaxInt64/times; !ok {
			return n, nil, false
		}
	}
	return n, rest, ok
}

// stripStamp takes off what a terminal puts before a line: a clock time, bare or in brackets, with or
// without a date, and an arrow or blank; or a prompt. loose says that a clock was there and only a blank followed it.
func stripStamp(b []byte) (rest []byte, loose bool) {
	if len(b) > 2 && b[0] == '>' && b[1] == ' ' {
		return bytes.TrimLeft(b[2:], " "), false
	}
	t := bytes.TrimLeft(b, "[(")
	t = skipDate(t)
	n := clockLength(t)
	if n == 0 {
		return b, false
	}
	t = t[n:]
	rest = bytes.TrimLeft(t, " ")
	loose = len(rest) < len(t)
	for again := true; again; {
		again = false
		for _, mark := range stampEnds {
			if after, ok := bytes.CutPrefix(rest, mark); ok {
				rest, loose, again = bytes.TrimLeft(after, " "), false, true
			}
		}
	}
	if len(rest) == len(t) {
		return b, false // a comma and the like: the clock is the time itself, which is no counter
	}
	return rest, loose
}

// stampEnds are what may stand between a terminal's clock and the line itself.
var stampEnds = [][]byte{[]byte("->"), []byte("]"), []byte(")"), []byte(">"), []byte("|")}

// skipDate skips "2001-01-01 " or "2001-01-01T".
func skipDate(b []byte) []byte {
	const form = "0000-00-00"
	if len(b) <= len(form) || b[len(form)] != ' ' && b[len(form)] != 'T' {
		return b
	}
	for i := range len(form) {
		if digit := b[i] >= '0' && b[i] <= '9'; digit != (form[i] == '0') || !digit && b[i] != form[i] {
			return b
		}
	}
	return b[len(form)+1:]
}

// clockLength is the length of hh:mm:ss and its fraction at the start of b, 0 if there is none.
func clockLength(b []byte) int {
	digit := func(i int) bool { return b[i] >= '0' && b[i] <= '9' }
	if len(b) < 8 || b[2] != ':' || b[5] != ':' || !digit(0) || !digit(1) || !digit(3) || !digit(4) || !digit(6) || !digit(7) {
		return 0
	}
	n := 8
	if n < len(b) && (b[n] == '.' || b[n] == ',') && n+1 < len(b) && digit(n+1) {
		k := n + 1
		for k < len(b) && digit(k) {
			k++
		}
		if b[n] == '.' || k-n == 4 { // a decimal comma has three digits behind it
			n = k
		}
	}
	return n
}

// readable reports whether a line is text that a person may have written, as against line noise.
func readable(b []byte) bool {
	letters := 0
	for _, c := range b {
		if c < 0x20 && c != '\t' && c != 0x1b || c == 0x7f || c > 0x7f && !utf8.Valid(b) {
			return false
		}
		if c|0x20 >= 'a' && c|0x20 <= 'z' {
			letters++
		}
	}
	return letters >= 2
}
