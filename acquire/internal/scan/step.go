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
