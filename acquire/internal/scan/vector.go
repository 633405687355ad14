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

// bind says where to read and to write.
func (v *vector) bind(text []byte, pos, end int, levels []float64) {
	v.text, v.pos, v.end, v.last = &text[0], pos, end, pos
	v.levels, v.rows = &levels[0], len(levels)
}

func (v *vector) result(rows int) (k, after, last int) {
	v.text, v.levels = nil, nil
	return rows - v.rows, v.pos, v.last
}

// cells are cells of a column as vectorCells and vectorTimes want them; what stands apart is for one of them.
type cells struct {
	text         *byte
	starts, ends *uint32 // the first row's cell is at starts[first], the next one's at starts[ends[0]]
	first        uint64
	rows         int
	out          *float64
	scales       *scale
	power        int // place in scales of a whole number's
	tail         uint64
	points       [16]byte

	size, at                  uint // see run
	literal, step, pass, next uint64
	want, mask                [16]byte
}
