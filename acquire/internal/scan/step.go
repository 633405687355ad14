package scan

import (
	"math"
	"math/bits"
)

// step is a wanted cell of a row.
type step struct {
	cell  int
	value int // which level it is; -1: the time
	shift int
	tail  uint // length of the exponent that the last number had
}

// steps are the cells that are wanted, the time first.
func (l *Layout) steps() []step {
	var s []step
	if l.Time >= 0 {
		s = append(s, step{cell: l.Time, value: -1, shift: l.TimeShift})
	}
	for i, k := range l.Value {
		s = append(s, step{cell: k, value: i, shift: l.Shift[i]})
	}
	return s
}

// number reads a number that is all of text[from:to], of up to 16 bytes behind its sign; ok is false for one that needs care.
// It is read from its end, so that neither how many digits there are nor where the mark is takes a branch that could be
// foretold wrongly, as they change from row to row. points holds the mark in each lane.
func (s *step) number(text []byte, from, to int, points uint64) (f float64, ok bool) {
	negative := is(text[from], '-')
	from += int(negative | is(text[from], '+'))
	e := s.shift + exactPower
	if to > 0 {
		to -= int(is(text[to-1], '\r'))
	}
	if s.tail > 0 {
		x, n := exponentBefore(text, to)
		if n != s.tail {
			return 0, false
		}
		e += x
		to -= int(n)
	}
	size := uint(to - from)
	if to < 16 || size-1 > 15 {
		return 0, false
	}
	w := load8(text, to-8)
	dots := equals(w, points)
	w ^= zeros
	var m uint64
	if size <= 8 {
		keep := ^uint64(0) << (64 - 8*size)
		dots &= keep
		m = w & keep
		if size == 1 && dots != 0 {
			return 0, false
		}
		some := uint64(int64(dots|-dots) >> 63) // all bits if there is a mark
		low := ((dots&-dots)>>7 - 1) & some     // lanes before it
		m = m&^((low<<8|0xff)&some) | m&low<<8
		if notDigits(m) != 0 {
			return 0, false
		}
		m = eightDigits(m)
		e -= bits.LeadingZeros64(dots) >> 3 & 7
	} else {
		keep := ^uint64(0) << (128 - 8*size)
		v := load8(text, to-16)
		before := equals(v, points) & keep
		v = (v ^ zeros) & keep
		if dots != 0 {
			low := (dots&-dots)>>7 - 1
			w, v = w&^(low<<8|0xff)|w&low<<8|v>>56, v<<8
			e -= bits.LeadingZeros64(dots) >> 3
		} else if before != 0 {
			low := (before&-before)>>7 - 1
			v = v&^(low<<8|0xff) | v&low<<8
			e -= 8 + bits.LeadingZeros64(before)>>3
		}
		m = eightDigits(v)*1e8 + eightDigits(w)
		if notDigits(v)|notDigits(w) != 0 || m > exactMantissa {
			return 0, false
		}
	}
	if uint(e) >= uint(len(scales)) {
		return 0, false
	}
	f = float64(int64(m)) * scales[e].times / scales[e].over
	return math.Float64frombits(math.Float64bits(f) | uint64(negative)<<63), true
}

// plainExponent is the greatest exponent behind which no number of ours, whatever its unit, is an overrange mark.
const plainExponent = 10

// exponentBefore reads the exponent that ends at a place, of one to three digits and up to plainExponent: n is its length in
// bytes, or 0 if there is none.
func exponentBefore(b []byte, to int) (e int, n uint) {
	if to < 5 {
		return 0, 0
	}
	n = 2
	power := 10
	for e = int(b[to-1] - '0'); n < 5; n++ {
		switch c := b[to-int(n)]; {
		case c-'0' <= 9:
			e += power * int(c-'0')
			power *= 10
			continue
		case c == '-':
			e = -e
			n++
		case c == '+':
			n++
		}
		break
	}
	if n > 5 || b[to-1]-'0' > 9 || b[to-int(n)]|0x20 != 'e' || e > plainExponent {
		return 0, 0
	}
	return e, n
}

// vectorCells reads cells of the rows from row n on with vectorCells, and returns how many.
func (s *step) vectorCells(text []byte, x *index, point byte, n int, out []float64) int {
	v := x.cells(text, s.cell, n, len(out))
	v.out, v.scales, v.power, v.tail = &out[0], &scales[0], s.shift+exactPower, uint64(s.tail)
	for i := range v.points {
		v.points[i] = point
	}
	vectorCells(&v)
	return len(out) - v.rows
}

// run is a stretch of rows whose times count up by the same step in their last digits, as those of an even grid do.
// What each must read is foretold as text, and compared byte for byte: that finds a gap as surely as a conversion
// would, for less than half of the work. The times in between are filled in only if somebody asks, see Rows.Fill.
type run struct {
	left int // rows that can still be foretold before a digit left of the window changes; 0: no run

	size    uint      // bytes of the time, with its delimiter
	at      uint      // the window: eight bytes, the last digits of the time among them
	literal uint64    // xor'ed with the window it leaves digits in their lanes, and in the others what next has there
	lanes   uint64    // of the window, those of the time and its delimiter
	next    uint64    // what it must leave in the next row; the first byte is the highest lane, so that carries rise
	step    uint64    // added to next, plus carryUp in each lane
	pass    uint64    // 9 in the lane of the mark, so that a carry passes through it
	want    [3]uint64 // the time's bytes
	mask    [3]uint64 // of those outside of the window

	mantissa int64 // of the next row's time
	delta    int64
}

// carryUp makes a lane overflow when a digit's sum passes 9.
const carryUp = 0xf6f6f6f6f6f6f6f6

// after adds the step in decimal, digit by digit.
func (u *run) after(next uint64) uint64 {
	s := next + u.step
	return (s - (s>>7&lowBits)*0xf6) | u.pass // lanes that did not overflow give back what was added to make them
}

// foretold reports whether the text begins with the time that next foretells.
func (u *run) foretold(b *window, next uint64) bool {
	miss := (bits.ReverseBytes64(eight(b, u.at)^u.literal) ^ next) & u.lanes
	miss |= (eight(b, 0) ^ u.want[0]) & u.mask[0]
	if u.size > 8 {
		miss |= (eight(b, 8) ^ u.want[1]) & u.mask[1]
	}
	if u.size > 16 {
		miss |= (eight(b, 16) ^ u.want[2]) & u.mask[2]
	}
	return miss == 0
}
