package acquire

import (
	"bytes"
	"math"
	"strings"

	"offbeat/acquire/internal/scan"
)

// cellClass is what one cell of a table looks like.
type cellClass int

const (
	emptyCell    cellClass = iota
	numberCell             // 1.5, -2e-3
	commaCell              // a number with a decimal comma
	unknownCell            // X, ---, NaN
	clippedCell            // ∞, 1.#INF
	stateCell              // H, low
	quantityCell           // 3.214 500 ms
	calendarCell           // 2001-01-01T10:00:02.5Z
	textCell
)

// marks are the words that stand for a level; states hold 0 or 1, unknown NaN, a rail ±Inf.
var marks = map[string]struct {
	class cellClass
	value float64
}{
	"x": {unknownCell, math.NaN()}, "z": {unknownCell, math.NaN()}, "?": {unknownCell, math.NaN()},
	"-": {unknownCell, math.NaN()}, "--": {unknownCell, math.NaN()}, "---": {unknownCell, math.NaN()}, "----": {unknownCell, math.NaN()},
	"nan": {unknownCell, math.NaN()}, "-nan": {unknownCell, math.NaN()}, "n/a": {unknownCell, math.NaN()}, "na": {unknownCell, math.NaN()},
	"null": {unknownCell, math.NaN()}, "none": {unknownCell, math.NaN()}, "1.#qnan": {unknownCell, math.NaN()}, "-1.#ind": {unknownCell, math.NaN()},
	"∞": {clippedCell, math.Inf(1)}, "+∞": {clippedCell, math.Inf(1)}, "-∞": {clippedCell, math.Inf(-1)}, "−∞": {clippedCell, math.Inf(-1)},
	"inf": {clippedCell, math.Inf(1)}, "+inf": {clippedCell, math.Inf(1)}, "-inf": {clippedCell, math.Inf(-1)},
	"infinity": {clippedCell, math.Inf(1)}, "+infinity": {clippedCell, math.Inf(1)}, "-infinity": {clippedCell, math.Inf(-1)},
	"1.#inf": {clippedCell, math.Inf(1)}, "+1.#inf": {clippedCell, math.Inf(1)}, "-1.#inf": {clippedCell, math.Inf(-1)},
	"h": {stateCell, 1}, "high": {stateCell, 1}, "true": {stateCell, 1}, "on": {stateCell, 1}, "mark": {stateCell, 1},
	"l": {stateCell, 0}, "low": {stateCell, 0}, "false": {stateCell, 0}, "off": {stateCell, 0}, "space": {stateCell, 0},
}

// mark looks a cell up among the words that stand for a level.
func mark(b []byte) (cellClass, float64, bool) {
	if len(b) == 0 {
		return emptyCell, math.NaN(), true
	}
	if len(b) > 12 {
		return textCell, 0, false
	}
	m, ok := marks[strings.ToLower(string(b))]
	return m.class, m.value, ok
}

// classify looks at one trimmed cell.
func classify(b []byte) cellClass {
	if class, _, ok := mark(b); ok {
		return class
	}
	if _, ok := scan.ParseDecimal(b, '.'); ok {
		return numberCell
	}
	if _, ok := scan.ParseDecimal(b, ','); ok {
		return commaCell
	}
	if _, ok := quantitySeconds(b); ok {
		return quantityCell
	}
	if looksCalendar(b) {
		return calendarCell
	}
	return textCell
}

// looksCalendar: four digits, a hyphen, two digits, a hyphen, two digits, T or blank, a time of day.
func looksCalendar(b []byte) bool {
	const form = "dddd-dd-dd?dd:dd:dd"
	if len(b) < len(form) {
		return false
	}
	for i := range len(form) {
		switch c := b[i]; form[i] {
		case 'd':
			if c < '0' || c > '9' {
				return false
			}
		case '?':
			if c != 'T' && c != 't' && c != ' ' {
				return false
			}
		default:
			if c != form[i] {
				return false
			}
		}
	}
	return true
}

// quantitySeconds reads a number with a time unit, digits possibly grouped by blanks, into seconds.
func quantitySeconds(b []byte) (float64, bool) {
	i := len(b)
	for i > 0 && (b[i-1] >= 0x80 || b[i-1]|0x20 >= 'a' && b[i-1]|0x20 <= 'z') {
		i--
	}
	shift, ok := timeUnits[string(b[i:])]
	if !ok || i == len(b) {
		return 0, false
	}
	number := bytes.TrimRight(b[:i], " ")
	var room [48]byte
	out := room[:0]
	for k, c := range number {
		if c == ' ' && k > 0 {
			continue
		}
		out = append(out, c)
	}
	point := byte('.')
	if bytes.IndexByte(out, ',') >= 0 {
		point = ','
	}
	return scan.Float(out, point, shift)
}

// trim takes blanks and one pair of quotes off a cell.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t' || b[0] == '\r') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\r') {
		b = b[:len(b)-1]
	}
	if len(b) >= 2 && b[0] == '"' && b[len(b)-1] == '"' {
		return trim(b[1 : len(b)-1])
	}
	return b
}

// blankDelimiter stands for runs of blanks; no delimiter (0) makes the whole line one cell.
const blankDelimiter = ' '

// splitCells cuts a line at its delimiters, outside quotes, and trims each cell. A delimiter that ends the
// line opens no cell. The cells are views of line; dst is reused.
func splitCells(dst [][]byte, line []byte, delim byte) [][]byte {
	dst = dst[:0]
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	if delim == 0 {
		return append(dst, trim(line))
	}
	if delim == blankDelimiter {
		for i := 0; i < len(line); {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			start := i
			for i < len(line) && line[i] != ' ' && line[i] != '\t' {
				i++
			}
			if i > start {
				dst = append(dst, trim(line[start:i]))
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
			dst = append(dst, trim(line[start:i]))
			start = i + 1
		}
	}
	if start < len(line) {
		dst = append(dst, trim(line[start:]))
	}
	return dst
}
