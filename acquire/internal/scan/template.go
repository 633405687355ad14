package scan

import (
	"math"
	"math/bits"
)

// template is what the row before looked like: a time whose sign, mark and exponent stay, and a level whose sign
// and exponent are free. Most rows of a table differ from their neighbour in digits alone, so digits are loaded
// from known places and one test at the end tells whether the guess was right.
//
// The time's digits are taken in two parts: the first, up to the mark and past it, from one load of eight bytes,
// and the rest, if there is any, from another.
type template struct {
	learned bool
	misses  int // rows that did not fit, since the text began
	last    int // place of the last row read
	hopes   int // see maxHopes

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

	run run // what the next times must be

	level     [levelBytes / 8]word // the level's bytes without its sign, and the line end
	levelSize uint
	digits    compact
	exponent  uint   // place of the exponent's sign
	use       uint32 // mask of the exponent's code: 0 where there is none
	none      uint32 // the code of e+00 where there is none
	power     int    // of the last digit, where there is no exponent
	scale     *[expCodes]scale
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

// word tests eight bytes: a byte that is xor'ed with its literal and added to its slack must not reach 0x80.
type word struct{ literal, slack, top uint64 }

// miss is not zero if the bytes of w are not as they must be.
func (p *word) miss(w uint64) uint64 {
	w ^= p.literal
	return (w | (w + p.slack)) & p.top
}

// The slack of a byte by what may stand there.
const (
	literalSlack = 0x7f // nothing else
	digitSlack   = 0x76 // '0' to '9', against '0'
	signSlack    = 0x79 // '+' to '1', against '+', of which the scale table takes '+' and '-' alone
)

// set says what byte i of a row of words must be.
func set(words []word, i uint, literal, slack byte) {
	shift := i % 8 * 8
	p := &words[i/8]
	p.literal |= uint64(literal) << shift
	p.slack |= uint64(slack) << shift
	p.top |= 0x80 << shift
}

// An exponent's code is made of its last digit, the one before being 0, and of its sign's last three bits.
const (
	expCodes  = 128
	plusCode  = '+' & 7
	minusCode = '-' & 7
)

func expCode(sign, digit byte) uint32 { return uint32(digit&0xf)<<3 | uint32(sign&7) }

// newScale tells what an exponent's code does to digits of the given power; NaN refuses a code that is no
// exponent or needs care.
func newScale(power int) *[expCodes]scale {
	t := new([expCodes]scale)
	for i := range t {
		e := i >> 3
		ok := e <= 9
		switch i & 7 {
		case minusCode:
			e = -e
		case plusCode:
		default:
			ok = false
		}
		e += power + exactPower
		if ok && 0 <= e && e < len(scales) {
			t[i] = scales[e]
		} else {
			t[i] = scale{math.NaN(), 1}
		}
	}
	return t
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
	b := text[pos : pos+loadPad]
	if t.learnTime(l, b) && t.learnLevel(l, b[t.timeSize:]) {
		t.learned = true
	}
}

// exactDigits is how many decimal digits always fit the mantissa of a float64.
const exactDigits = 15

func (t *template) learnTime(l *Layout, b []byte) bool {
	s, ok := shapeAt(b, 0, l.Point)
	size := s.sign + s.size() + 1
	if !ok || s.whole > 8 || s.whole+s.fraction > exactDigits || size > timeBytes || b[size-1] != l.Delim {
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
	t.use, t.none = 0, plusCode
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
		t.exponent, t.use, t.none = digits+1, expCodes-1, 0
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
	return true
}

// rows reads at most limit rows at text[pos:end] while they fit the template, and returns the place of the first that
// does not. In a run the times must be what the run foretells. text is readable loadPad bytes past end.
func (t *template) rows(text []byte, pos, end int, r *Rows, limit int) int {
	n := r.N
	times, levels := r.Time[n:], r.Value[0][n:]
	limit = min(limit, len(times), len(levels))
	times, levels = times[:limit], levels[:limit]
	running, next := t.run.left > 0, t.run.next
	k, last := 0, pos
	for k < len(levels) && k < len(times) && pos < end {
		b := (*[loadPad]byte)(text[pos : pos+loadPad : pos+loadPad])
		var miss uint64
		if running {
			miss = bits.ReverseBytes64(load8(b[:], int(t.run.at&offset))^t.run.literal) ^ next
			miss |= (load8(b[:], 0)^t.run.want[0])&t.run.mask[0] | (load8(b[:], 8)^t.run.want[1])&t.run.mask[1]
			if t.timeSize > 16 {
				miss |= (load8(b[:], 16) ^ t.run.want[2]) & t.run.mask[2]
			}
			next = t.run.after(next)
		} else {
			miss = t.time[0].miss(load8(b[:], 0)) | t.time[1].miss(load8(b[:], 8))
			m := eightDigits(t.part.lanes(load8(b[:], int(t.partAt&1))))
			if t.rest > 0 {
				miss |= t.time[2].miss(load8(b[:], 16))
				m = m*t.restPower + eightDigits((load8(b[:], int(t.restAt&offset))^zeros)*t.restDrop)
			}
			times[k] = float64(int64(m)) / t.timeOver
		}

		at := t.timeSize
		minus := ((uint64(b[at&offset]) ^ '-') - 1) >> 63 // 1 if it is a minus sign: no branch, as noise takes either way
		at += uint(minus)
		w := load8(b[:], int(at&offset))
		miss |= t.level[0].miss(w) | t.level[1].miss(load8(b[:], int(at&offset)+8))
		x := at + t.exponent
		code := expCode(b[x&offset], b[(x+2)&offset])&t.use | t.none
		s := &t.scale[code&(expCodes-1)]
		level := float64(int64(eightDigits(t.digits.lanes(w)))) * s.times / s.over
		levels[k] = math.Float64frombits(math.Float64bits(level) | minus<<63)
		if miss != 0 || level != level {
			break
		}
		k++
		last = pos
		pos += int(at + t.levelSize)
	}
	if running {
		t.run.end(r, n, k, t.timeOver)
	}
	r.N = n + k
	t.last = last
	return pos
}

// offset masks a place within a row: a template's row, sign and all, is shorter.
const offset = 63
