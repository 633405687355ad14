package scan

import (
	"math"
	"strings"
)

// template is what the row before looked like: a time whose sign, mark and exponent stay, and a level whose sign
// and exponent are free. Most rows of a table differ from their neighbour in digits alone, so digits are loaded
// from known places and one test at the end tells whether the guess was right.
//
// The time's digits are taken in two parts: the first, up to the mark and past it, from one load of eight bytes,
// and the rest, if there is any, from another.
type template struct {
	learned bool
	wide    bool // there is more than a time and a level, or they lie elsewhere: only the time's form is known
	misses  int  // rows that did not fit, since the text began
	last    int  // place of the last row read
	hopes   int  // see maxHopes

	mantissa numberShape // of the time

	time      [timeBytes / 8]word // the time's bytes and the delimiter
	timeSize  uint                // how many
	partAt    uint                // place of the first part
	part      compact
	rest      uint    // digits behind the first part
	restAt    uint    // their place
	restDrop  uint64  // factor that shifts what follows them out of their eight lanes
	restPower uint64  // 10^rest
	timeOver  float64 // the divisor, negative for a negative time

	run    run // what the next times must be
	vector vector

	level     [levelBytes / 8]word // the level's bytes without its sign, and the line end
	levelSize uint
	digits    compact
	raised    bool // it has an exponent
	exponent  uint // place of the exponent's sign
	power     int  // of the last digit, where there is no exponent
	scale     *[expCodes]scale

	stated bool        // the level is one digit
	state  [16]float64 // what each digit is worth
}

// timeBytes and levelBytes bound what a template tests of a row.
const (
	timeBytes  = 24
	levelBytes = 16
)

// compact takes a run of digits with at most one mark among them, eight bytes at most.
type compact struct {
	whole uint64 // lanes of the digits before the mark
	drop  uint64 // factor that shifts what follows the digits out of the lanes
}

// newCompact is for whole digits, a mark if there is a fraction, and the fraction's digits.
func newCompact(whole, fraction uint) compact {
	c := compact{whole: 1<<(8*whole) - 1, drop: 1 << (8 * (8 - whole - fraction))}
	if fraction == 0 {
		c.whole = math.MaxUint64
	}
	return c
}

// lanes drops the mark, and what follows the digits, out of eight bytes of text.
func (c *compact) lanes(w uint64) uint64 {
	return ((w>>8 ^ (w>>8^w)&c.whole) ^ zeros) * c.drop
}

// numberShape is the form of a number's text: digits before and after the mark, length of the exponent with its letter.
type numberShape struct{ sign, whole, fraction, exponent uint }

// size is the length without the sign.
func (s numberShape) size() uint {
	n := s.whole + s.fraction + s.exponent
	if s.fraction > 0 {
		n++
	}
	return n
}

// shapeAt looks at a number at b[i:]; ok is false for a shape that no template takes.
func shapeAt(b []byte, i uint, point byte) (s numberShape, ok bool) {
	if b[i] == '-' {
		s.sign = 1
		i++
	}
	run := func() (n uint) {
		for ; n <= exactDigits && b[i]-'0' <= 9; i++ { // more is refused, and b is short
			n++
		}
		return n
	}
	s.whole = run()
	if b[i] == point {
		i++
		s.fraction = run()
		if s.fraction == 0 {
			return s, false
		}
	}
	if b[i]|0x20 == 'e' {
		if b[i+1] != '+' && b[i+1] != '-' {
			return s, false
		}
		i += 2
		if run() != 2 {
			return s, false
		}
		s.exponent = 4
	}
	return s, s.whole > 0
}

// templated reports whether the layout is one of time and level, and nothing else.
func (l *Layout) templated() bool {
	return l.Time == 0 && len(l.Value) == 1 && l.Value[0] == 1 && l.Cells == 2 && l.Delim != 0
}

// learn takes the row at text[pos:] as the template, if it is of the kind.
func (t *template) learn(l *Layout, text []byte, pos int) {
	old := *t
	*t = template{misses: old.misses, hopes: old.hopes, scale: old.scale, power: old.power}
	if t.wide = !l.templated(); t.wide {
		t.learned = true
		return
	}
	b := text[pos : pos+loadPad]
	if t.learnTime(l, b) && t.learnLevel(l, b[t.timeSize:]) {
		t.learned = true
		t.learnState(b[t.timeSize])
	}
}

// relearn takes the form of the last row's time.
func (t *template) relearn(l *Layout, text []byte) bool {
	*t = template{misses: t.misses, hopes: t.hopes, scale: t.scale, power: t.power, wide: true, learned: true, last: t.last}
	return t.learnTime(l, text[t.last:t.last+loadPad])
}

// exactDigits is how many decimal digits always fit the mantissa of a float64.
const exactDigits = 15

func (t *template) learnTime(l *Layout, b []byte) bool {
	s, ok := shapeAt(b, 0, l.Point)
	size := s.sign + s.size() + 1
	if !ok || s.whole > 8 || s.whole+s.fraction > exactDigits || size > timeBytes || b[size-1] != l.Delim && !(t.wide && strings.IndexByte("\" \r\n", b[size-1]) >= 0) {
		return false
	}
	for i := range size {
		if b[i]-'0' <= 9 && i < size-1-s.exponent {
			set(t.time[:], i, '0', digitSlack)
		} else {
			set(t.time[:], i, b[i], literalSlack)
		}
	}
	first := s.fraction // decimals in the first part
	if s.fraction > 0 {
		first = min(first, max(s.whole, 7)-s.whole)
	}
	t.rest = s.fraction - first
	if t.rest > 8 {
		return false
	}
	t.mantissa = numberShape{whole: s.whole, fraction: s.fraction}
	t.timeSize, t.partAt, t.part = size, s.sign, newCompact(s.whole, first)
	t.restAt, t.restPower = s.sign+s.whole+1+first, wholePower[t.rest]
	if t.rest > 0 {
		t.restDrop = 1 << (8 * (8 - t.rest))
	}
	e := l.TimeShift - int(s.fraction)
	if s.exponent > 0 {
		x, _ := exponent(b[size-1-s.exponent : size-1])
		e += x
	}
	if e > 0 || e < -exactPower {
		return false
	}
	t.timeOver = pow10[-e]
	if s.sign > 0 {
		t.timeOver = -t.timeOver
	}
	return true
}

func (t *template) learnLevel(l *Layout, b []byte) bool {
	s, ok := shapeAt(b, 0, l.Point)
	b = b[s.sign:]
	size := s.size()
	digits := size - s.exponent
	if !ok || digits > 8 {
		return false
	}
	for i := range digits {
		if b[i]-'0' <= 9 {
			set(t.level[:], i, '0', digitSlack)
		} else {
			set(t.level[:], i, b[i], literalSlack)
		}
	}
	if s.exponent > 0 {
		set(t.level[:], digits, b[digits], literalSlack)
		set(t.level[:], digits+1, '+', signSlack)
		set(t.level[:], digits+2, '0', literalSlack)
		set(t.level[:], digits+3, '0', digitSlack)
		t.exponent, t.raised = digits+1, true
	}
	for {
		if size == levelBytes {
			return false
		}
		c := b[size]
		set(t.level[:], size, c, literalSlack)
		size++
		if c == '\n' {
			break
		}
		if c != '\r' && c != l.Delim {
			return false
		}
	}
	t.levelSize, t.digits = size, newCompact(s.whole, s.fraction)
	power := l.Shift[0] - int(s.fraction)
	if t.scale == nil || t.power != power {
		t.scale, t.power = newScale(power), power
	}
	t.learnVector(digits)
	return true
}

// learnState notes what a level is worth where it is one digit, the first byte.
func (t *template) learnState(first byte) {
	if t.stated = t.digits == newCompact(1, 0) && !t.raised && t.levelSize <= 8 && first != '-'; !t.stated {
		return
	}
	one := t.scale[noExponent]
	for d := range t.state {
		t.state[d] = float64(d) * one.times / one.over
	}
}

// learnVector puts the template into the vector's terms.
func (t *template) learnVector(digits uint) {
	v := &t.vector
	*v = vector{timeSize: uint64(t.timeSize), levelSize: uint64(t.levelSize), none: noExponent, scale: t.scale}
	if t.raised {
		v.exponent, v.use, v.none = uint64(t.exponent), expCodes-1, 0
	}
	v.level.learn(t.level[:], t.levelSize, digits, 8)
	if t.timeSize <= vectorTime {
		v.time.learn(t.time[:], t.timeSize, t.timeSize, 16)
	}
	v.over, v.line, v.size = t.timeOver, t.level[0], uint64(t.timeSize+t.levelSize)
}
