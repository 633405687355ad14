package scan

import (
	"bytes"
	"math"
	"regexp"
	"strings"

	"offbeat/acquire/internal/timeunit"
)

// Class is what one cell of a table looks like.
type Class int

const (
	Empty    Class = iota
	Number         // 1.5, -2e-3
	Comma          // a number with a decimal comma
	Unknown        // X, ---, NaN: neither high nor low
	Clipped        // ∞, 1.#INF: at a rail
	State          // H, low
	Quantity       // 3.214 500 ms
	Calendar       // 2001-01-01T10:00:02.5Z
	Bits           // states of several lines, one character each: 0b0101, 01x1
	Text
)

type mark struct {
	class Class
	value float64
}

// marks are the words that stand for a level, in lower case.
var marks = func() map[string]mark {
	m := map[string]mark{}
	for value, words := range map[mark][]string{
		{Unknown, 2}: {"x", "z", "u", "w", "?", "-", "--", "---", "----", "nan", "-nan", "+nan", "n/a", "na", "#n/a", "null", "none", "1.#qnan", "-1.#qnan", "1.#ind", "-1.#ind"},
		{Clipped, 1}: {"ol", "+ol", "over", "overload", "ovfl", "∞", "+∞", "inf", "+inf", "infinity", "+infinity", "1.#inf", "+1.#inf", "1.#inf00"},
		{Clipped, 0}: {"-ol", "−ol", "-∞", "−∞", "-inf", "-infinity", "-1.#inf", "-1.#inf00"},
		{State, 1}: {"h", "high", "hi", "true", "on", "mark", "rise", "rising", "up", "r", "posedge", "pos", "ja", "oui",
			"hoch", "ein", "an", "steigend", "impuls", "puls", "haut", "montant", "alto", "alta", "subida", "impulso", "salita", "hoog", "aan"},
		{State, 0}: {"l", "low", "lo", "false", "off", "space", "fall", "falling", "down", "f", "negedge", "neg", "nein", "non",
			"tief", "aus", "fallend", "pause", "bas", "descendant", "bajo", "baja", "bajada", "pausa", "basso", "bassa", "discesa", "laag", "uit"},
	} {
		switch {
		case value.class == Unknown:
			value.value = math.NaN()
		case value.class == Clipped:
			value.value = math.Inf(int(2*value.value) - 1)
		}
		for _, w := range words {
			m[w] = value
		}
	}
	return m
}()

// longestMark is the length in bytes of the longest of the marks.
const longestMark = 10

// Mark reads a word that stands for a level: 0 or 1 for a state, NaN for unknown or nothing, ±Inf for a rail.
func Mark(b []byte) (Class, float64, bool) {
	if len(b) == 0 {
		return Empty, math.NaN(), true
	}
	if len(b) > longestMark {
		return Text, 0, false
	}
	var room [longestMark]byte
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			c |= 0x20
		}
		room[i] = c
	}
	m, ok := marks[string(room[:len(b)])]
	if !ok {
		m.class = Text
	}
	return m.class, m.value, ok
}

// overrange: a level so high, in its base unit, is no level but a mark of an instrument that could not measure one.
const overrange = 1e30

// notANumber is what SCPI-99 (volume 1, 7.2.1.5) writes for "not a number"; 9.9E37 and -9.9E37 are its infinities.
const notANumber = 9.91e37

// NoLevel is a level that is unknown because its cell holds something that can't be one: a NaN that IsNoLevel knows.
var NoLevel = math.Float64frombits(noLevel)

const noLevel = 0x7ff8_0000_0bad_ce11

// IsNoLevel tells NoLevel from what is plainly unknown.
func IsNoLevel(v float64) bool { return math.Float64bits(v) == noLevel }

// Overrange gives a level that is a mark of overrange, read with a power of ten: NoLevel, or ±Inf at a rail.
func Overrange(v float64, shift int) float64 {
	if math.Abs(math.Abs(v)/(notANumber*Pow10(shift))-1) < 1e-6 {
		return NoLevel
	}
	return math.Inf(int(math.Copysign(1, v)))
}

// Classify looks at one trimmed cell.
func Classify(b []byte) Class {
	if d, ok := ParseDecimal(b, '.'); ok && (bytes.IndexByte(b, ',') < 0 || !aDecimal.Match(b)) {
		if d.Exp+d.Digits > 30 {
			if v := d.Float(b, '.', 0); math.Abs(v) >= overrange {
				if math.IsNaN(Overrange(v, 0)) {
					return Unknown
				}
				return Clipped
			}
		}
		return Number
	}
	if class, _, ok := Mark(b); ok {
		return class
	}
	if _, ok := ParseDecimal(b, ','); ok {
		return Comma
	}
	if _, ok := Seconds(b); ok {
		return Quantity
	}
	if _, ok := ParseCalendar(b); ok {
		return Calendar
	}
	if n, written := BitsOf(b); n > 1 && written {
		return Bits
	}
	return Text
}

// isUnitByte: a letter or a byte of µ.
func isUnitByte(c byte) bool { return c >= 0x80 || c|0x20 >= 'a' && c|0x20 <= 'z' }

// quantity takes apart a number with a time unit whose digits may be grouped: its digits without blanks (in room, if it has to move
// them), its decimal mark and its unit. A comma is the decimal mark but where another mark is, it stands twice, or grouped says that
// it parts thousands.
func quantity(b, room []byte, grouped bool) (digits []byte, point byte, unit timeunit.Unit, ok bool) {
	i := len(b)
	for i > 0 && isUnitByte(b[i-1]) {
		i--
	}
	unit, ok = timeunit.Named(string(b[i:]))
	if !ok || i == 0 || i == len(b)-1 && b[i] == 'h' && bytes.IndexAny(b[:i], " .,") < 0 { // "12h" is hexadecimal
		return nil, 0, unit, false
	}
	number := bytes.TrimRight(b[:i], " ")
	point = '.'
	if comma := bytes.LastIndexByte(number, ','); comma >= 0 && !grouped && bytes.IndexByte(number, ',') == comma && bytes.IndexByte(number[comma:], '.') < 0 {
		point = ','
	}
	digits = room[:0]
	for _, c := range number {
		if c != ' ' {
			digits = append(digits, c)
		}
	}
	return digits, point, unit, true
}

// Seconds reads a number with a unit of time, digits possibly grouped: "3.214 500 ms", "1,234.5 us".
func Seconds(b []byte) (float64, bool) { return seconds(b, false) }

// GroupedSeconds is Seconds where commas part thousands.
func GroupedSeconds(b []byte) (float64, bool) { return seconds(b, true) }

func seconds(b []byte, grouped bool) (float64, bool) {
	var room [48]byte
	digits, point, unit, ok := quantity(b, room[:], grouped)
	if !ok {
		return 0, false
	}
	return FloatIn(digits, point, unit)
}

// BitsOf counts the lines whose states a cell holds, one character each; 0 if it does not. written says that it shows that it is
// no decimal number, nor a hexadecimal one as 0x10 may be.
func BitsOf(b []byte) (n int, written bool) {
	s, binary := bytes.CutPrefix(b, []byte("0b"))
	known := 0
	for _, c := range s {
		if strings.IndexByte("01xXzZ", c) < 0 {
			return 0, false
		}
		if c <= '1' {
			known++
		}
	}
	hex := len(s) > 2 && known == len(s)-1 && s[1]|0x20 == 'x'
	return len(s), binary || known > 0 && known < len(s) && !hex
}

// bit is the state of a line, counted from the right; ok is false if the cell has none.
func bit(b []byte, k int) (v float64, ok bool) {
	n, _ := BitsOf(b)
	if k >= n {
		return 0, false
	}
	return DumpState(b[len(b)-1-k])
}

// FloatIn reads b wholly as a number in a unit of time, and returns it in s.
func FloatIn(b []byte, point byte, unit timeunit.Unit) (float64, bool) {
	v, ok := Float(b, point, unit.Power)
	if unit.Times > 1 {
		v *= float64(unit.Times)
	}
	return v, ok
}

// Trim takes blanks and quotes off a cell.
func Trim(b []byte) []byte {
	for {
		for len(b) > 0 && (b[0] == ' ' || b[0] == '\t' || b[0] == '\r') {
			b = b[1:]
		}
		for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\r') {
			b = b[:len(b)-1]
		}
		if n := len(b); n < 2 || b[0] != b[n-1] || b[0] != '"' && b[0] != '\'' {
			return b
		}
		b = b[1 : len(b)-1]
	}
}

// Blanks as a delimiter stands for a run of blanks and tabs; the delimiter 0 makes a whole line one cell.
const Blanks = ' '

// Split cuts a line (without its line end) at its delimiters, outside quotes, and trims each cell. A delimiter
// at the end opens one more, empty, cell. The cells are views of line; dst is reused.
func Split(dst [][]byte, line []byte, delim byte) [][]byte {
	dst = dst[:0]
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	switch delim {
	case 0:
		return append(dst, Trim(line))
	case Blanks:
		for i := 0; i < len(line); {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			start := i
			for i < len(line) && line[i] != ' ' && line[i] != '\t' {
				i++
			}
			if i > start {
				dst = append(dst, Trim(line[start:i]))
			}
		}
		return dst
	}
	start, quoted := 0, false
	for i, c := range line {
		switch {
		case c == '"':
			quoted = !quoted
		case c == delim && !quoted:
			dst = append(dst, Trim(line[start:i]))
			start = i + 1
		}
	}
	return append(dst, Trim(line[start:]))
}

// Column is where cell number k of a line begins: a 1-based byte column, or 0 if the line has no such cell.
func Column(line []byte, delim byte, k int) int {
	cells := Split(nil, line, delim)
	if k >= len(cells) || cap(cells[k]) == 0 {
		return 0
	}
	return cap(line) - cap(cells[k]) + 1 // a cell is a view of its line, and ends where the line's memory ends
}

// aDecimal: a comma before three digits may be the decimal mark.
var aDecimal = regexp.MustCompile(`^\S?\d{1,3},\d{3}$`)

// Clip shortens a cell for a message.
func Clip(b []byte) string {
	if len(b) > 40 {
		return string(b[:40]) + "…"
	}
	return string(b)
}
