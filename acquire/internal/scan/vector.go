package scan

// vector is a run and a template as vectorRows wants them: what foretoldLevels takes from both, sixteen bytes at a
// time.
type vector struct {
	want, mask  [16]byte // the time's bytes outside of the window, and which they are
	base, limit [16]byte // of the level's bytes: what is subtracted, and the most that may remain
	order       [16]byte // where each of the level's eight digits is taken from

	literal, step, pass, next uint64 // as in run

	at, timeSize, levelSize, exponent uint64

	use, none uint64 // mask of the exponent's code, and the code where there is no exponent
	scale     *[expCodes]scale

	text           *byte
	pos, end, last int
	levels         *float64
	rows           int // that may still be read
}

// vectorTime is the longest time, in bytes with its delimiter, that a vector holds.
const vectorTime = 16

// noDigit in vector.order gives a zero.
const noDigit = 0x80

// learnVector puts the template's level into the vector's terms.
func (t *template) learnVector(digits uint) {
	v := &t.vector
	*v = vector{timeSize: uint64(t.timeSize), levelSize: uint64(t.levelSize), none: noExponent, scale: t.scale}
	if t.raised {
		v.exponent, v.use, v.none = uint64(t.exponent), expCodes-1, 0
	}
	for i := range v.limit {
		v.limit[i], v.order[i] = 0xff, noDigit
	}
	place := 8
	for i := int(t.levelSize) - 1; i >= 0; i-- {
		p, shift := &t.level[i/8], i%8*8
		v.base[i] = byte(p.literal >> shift)
		v.limit[i] = literalSlack - byte(p.slack>>shift)
		if uint(i) < digits && v.limit[i] > 0 {
			place--
			v.order[place] = byte(i)
		}
	}
}

// vectorRun is foretoldLevels on a machine with vectors.
func (t *template) vectorRun(text []byte, pos, end int, levels []float64) (k, after, last int) {
	u, v := &t.run, &t.vector
	for i := range v.want {
		shift := i % 8 * 8
		v.want[i], v.mask[i] = byte(u.want[i/8]>>shift), byte(u.mask[i/8]>>shift)
	}
	v.literal, v.step, v.pass, v.next, v.at = u.literal, u.step, u.pass, u.next, uint64(u.at)
	v.text, v.pos, v.end, v.last = &text[0], pos, end, pos
	v.levels, v.rows = &levels[0], len(levels)
	vectorRows(v)
	v.text, v.levels = nil, nil
	return len(levels) - v.rows, v.pos, v.last
}
