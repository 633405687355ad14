package scan

import "math"

// template is what the row before looked like: a time whose sign, mark and exponent stay, and a level whose sign
// and exponent are free. Most rows of a sampled table differ from their neighbour in digits alone, so digits are
// loaded from known places and one test at the end tells whether the guess was right.
type template struct {
	learned bool
	misses  int // rows that did not fit, since the text began

	time       pattern // the time's bytes and the delimiter
	timeSize   uint    // how many
	wholeAt    uint    // the digit before the mark
	fractionAt uint    // the first digit after it
	timeTop    uint64  // weight of the digit before the mark
	timeDrop   uint64  // factor that shifts what follows the fraction out of its eight lanes
	timeScale  float64 // the divisor, negative for a negative time

	level     pattern // the level's bytes without its sign, and the line end
	levelSize uint
	whole     uint64 // lanes of the digits before the mark
	levelDrop uint64
	exponent  uint   // place of the exponent's sign
	use       uint32 // mask of the exponent's code: 0 where there is none
	power     int    // of the last digit, where there is no exponent
	scale     *[expCodes]scale
}

// pattern tests sixteen bytes: a byte that is xor'ed with its literal and added to its slack must not reach 0x80.
type pattern struct{ literal, slack, top [2]uint64 }

// The slack of a byte by what may stand there.
const (
	literalSlack = 0x7f // nothing else
	digitSlack   = 0x76 // '0' to '9', against '0'
	signSlack    = 0x79 // '+' to '1', against '+'; the scale table refuses all but '+' and '-'
)

func (p *pattern) set(i uint, literal, slack byte) {
	shift := i % 8 * 8
	p.literal[i/8] |= uint64(literal) << shift
	p.slack[i/8] |= uint64(slack) << shift
	p.top[i/8] |= 0x80 << shift
}

// patternBytes is how many bytes a pattern tests.
const patternBytes = 16

// An exponent's code is made of its two digits and its sign: (10 tens + units) × 8 + (sign xor '+').
const (
	expCodes  = 1024
	plusCode  = 0
	minusCode = '-' ^ '+'
)

// newScale tells what an exponent's code does to digits of the given power; NaN refuses a code that is no
// exponent or needs care.
func newScale(power int) *[expCodes]scale {
	t := new([expCodes]scale)
	for i := range t {
		e := i >> 3
		ok := e <= 99
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
		for ; b[i]-'0' <= 9; i++ {
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
	*t = template{misses: old.misses}
	b := text[pos:]
	ts, ok := shapeAt(b, 0, l.Point)
	timeSize := ts.sign + ts.size() + 1
	if !ok || ts.whole != 1 || ts.fraction < 1 || ts.fraction > 8 || timeSize > patternBytes || b[timeSize-1] != l.Delim {
		return
	}
	for i := range timeSize {
		if b[i]-'0' <= 9 && i < ts.sign+2+ts.fraction {
			t.time.set(i, '0', digitSlack)
		} else {
			t.time.set(i, b[i], literalSlack)
		}
	}
	t.timeSize, t.wholeAt, t.fractionAt = timeSize, ts.sign, ts.sign+2
	t.timeTop = wholePower[ts.fraction]
	t.timeDrop = 1 << (8 * (8 - ts.fraction))
	e := -int(ts.fraction) + l.TimeShift
	if ts.exponent > 0 {
		x, _ := exponent(b[timeSize-1-ts.exponent : timeSize-1])
		e += x
	}
	if e > 0 || e < -exactPower {
		return
	}
	t.timeScale = pow10[-e]
	if ts.sign > 0 {
		t.timeScale = -t.timeScale
	}

	b = b[timeSize:]
	vs, ok := shapeAt(b, 0, l.Point)
	b = b[vs.sign:]
	size := vs.size()
	if !ok || size-vs.exponent > 8 {
		return
	}
	digits := size - vs.exponent
	for i := range digits {
		if b[i]-'0' <= 9 {
			t.level.set(i, '0', digitSlack)
		} else {
			t.level.set(i, b[i], literalSlack)
		}
	}
	if vs.exponent > 0 {
		t.level.set(digits, b[digits], literalSlack)
		t.level.set(digits+1, '+', signSlack)
		t.level.set(digits+2, '0', digitSlack)
		t.level.set(digits+3, '0', digitSlack)
		t.exponent, t.use = digits+1, expCodes-1
	}
	for {
		if size == patternBytes {
			return
		}
		c := b[size]
		t.level.set(size, c, literalSlack)
		size++
		if c == '\n' {
			break
		}
		if c != '\r' && c != l.Delim {
			return
		}
	}
	t.levelSize = size
	t.whole = 1<<(8*vs.whole) - 1
	if vs.fraction == 0 {
		t.whole = math.MaxUint64
	}
	t.levelDrop = 1 << (8 * (8 - vs.whole - vs.fraction))
	power := l.Shift[0] - int(vs.fraction)
	t.scale, t.power = old.scale, power
	if t.scale == nil || old.power != power {
		t.scale = newScale(power)
	}
	t.learned = true
}

// rows reads rows at text[pos:end] while they fit the template, and returns the place of the first that
// does not. text is readable loadPad bytes past end.
func (t *template) rows(text []byte, pos, end int, r *Rows) int {
	if !t.learned {
		return pos
	}
	n := r.N
	times, levels := r.Time[n:], r.Value[0][n:]
	levels = levels[:min(len(times), len(levels))]
	times = times[:len(levels)]
	k := 0
	for k < len(levels) && k < len(times) && pos < end {
		b := (*[loadPad]byte)(text[pos:])
		w0 := load8(b[:], 0) ^ t.time.literal[0]
		w1 := load8(b[:], 8) ^ t.time.literal[1]
		miss := (w0|(w0+t.time.slack[0]))&t.time.top[0] | (w1|(w1+t.time.slack[1]))&t.time.top[1]
		fraction := eightDigits((load8(b[:], int(t.fractionAt&31)) ^ zeros) * t.timeDrop)
		times[k] = float64(int64(fraction+uint64(b[t.wholeAt&31]-'0')*t.timeTop)) / t.timeScale

		at := t.timeSize
		minus := ((uint64(b[at&31]) ^ '-') - 1) >> 63 // 1 if it is a minus sign: no branch, as noise takes either way
		at += uint(minus)
		w0 = load8(b[:], int(at&31))
		all := w0
		w0 ^= t.level.literal[0]
		w1 = load8(b[:], int(at&31)+8) ^ t.level.literal[1]
		miss |= (w0|(w0+t.level.slack[0]))&t.level.top[0] | (w1|(w1+t.level.slack[1]))&t.level.top[1]
		all = all>>8 ^ (all>>8^all)&t.whole // the mark drops out
		e := load4(b[:], int((at+t.exponent)&31)) ^ ('+' | '0'<<8 | '0'<<16)
		code := ((e>>8&0xf)*10+e>>16&0xf)*8 + e&7
		s := &t.scale[code&t.use&(expCodes-1)]
		level := float64(int64(eightDigits((all^zeros)*t.levelDrop))) * s.times / s.over
		levels[k] = math.Float64frombits(math.Float64bits(level) | minus<<63)
		if miss != 0 || level != level {
			break
		}
		k++
		pos += int(at + t.levelSize)
	}
	r.N = n + k
	return pos
}
