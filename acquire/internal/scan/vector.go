package scan

// lanes tests sixteen bytes of text and picks their digits.
type lanes struct {
	base, limit [16]byte // of each byte: what is subtracted, and the most that may remain
	order       [16]byte // where each digit is taken from
}

// vector is a run and a template as the vector loops want them: what foretoldLevels and freeStates take from both,
// sixteen bytes at a time.
type vector struct {
	want, mask [16]byte // the time's bytes outside of the window, and which they are
	level      lanes    // eight digits
	time       lanes    // sixteen

	literal, step, pass, next uint64 // as in run

	at, timeSize, levelSize, exponent uint64

	use, none uint64 // mask of the exponent's code, and the code where there is no exponent
	scale     *[expCodes]scale

	over   float64 // divisor of the time
	line   word    // tests the level of one digit, with its line end
	states *[16]float64
	size   uint64 // of such a row
	times  *float64

	text           *byte
	pos, end, last int
	levels         *float64
	rows           int // that may still be read
}

// vectorTime is the longest time, in bytes with its delimiter, that a vector holds.
const vectorTime = 16

// noDigit in lanes.order gives a zero.
const noDigit = 0x80

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

// learn takes over the test of size bytes, the digits among the first few of which end at a place.
func (a *lanes) learn(words []word, size, few uint, place int) {
	for i := range a.limit {
		a.limit[i], a.order[i] = 0xff, noDigit
	}
	for i := int(size) - 1; i >= 0; i-- {
		p, shift := &words[i/8], i%8*8
		a.base[i] = byte(p.literal >> shift)
		a.limit[i] = literalSlack - byte(p.slack>>shift)
		if uint(i) < few && a.limit[i] > 0 {
			place--
			a.order[place] = byte(i)
		}
	}
}

// vectorLevels is foretoldLevels on a machine with vectors.
func (t *template) vectorLevels(text []byte, pos, end int, levels []float64) (k, after, last int) {
	u, v := &t.run, &t.vector
	for i := range v.want {
		shift := i % 8 * 8
		v.want[i], v.mask[i] = byte(u.want[i/8]>>shift), byte(u.mask[i/8]>>shift)
	}
	v.literal, v.step, v.pass, v.next, v.at = u.literal, u.step, u.pass, u.next, uint64(u.at)
	v.bind(text, pos, end, levels)
	vectorLevels(v)
	return v.result(len(levels))
}

// vectorStates is freeStates on a machine with vectors.
func (t *template) vectorStates(text []byte, pos, end int, times, levels []float64) (k, after, last int) {
	v := &t.vector
	v.times, v.states = &times[0], &t.state
	v.bind(text, pos, end, levels)
	vectorStates(v)
	v.times, v.states = nil, nil
	return v.result(len(levels))
}

// bind says where to read and to write.
func (v *vector) bind(text []byte, pos, end int, levels []float64) {
	v.text, v.pos, v.end, v.last = &text[0], pos, end, pos
	v.levels, v.rows = &levels[0], len(levels)
}

func (v *vector) result(rows int) (k, after, last int) {
	v.text, v.levels = nil, nil
	return rows - v.rows, v.pos, v.last
}
