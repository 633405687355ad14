package scan

import (
	"bytes"
	"math"
	"math/bits"
)

// scale is a power of ten as a product and a quotient, one of them by 1, so that a whole number is scaled in one
// rounding without asking which way.
type scale struct{ times, over float64 }

// scales holds 10^-22 … 10^22.
var scales = func() (s [2*exactPower + 1]scale) {
	for e := -exactPower; e <= exactPower; e++ {
		if e < 0 {
			s[e+exactPower] = scale{1, pow10[-e]}
		} else {
			s[e+exactPower] = scale{pow10[e], 1}
		}
	}
	return s
}()

// wholePower holds 10^0 … 10^8 as whole numbers.
var wholePower = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}

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

// is gives 1 if c is the byte d, else 0, without a branch.
func is(c, d byte) uint { return (uint(c^d) - 1) >> (bits.UintSize - 1) }

// batch is how many rows are read column by column: few enough that one that is none does not cost much.
const batch = 64

// quickRows reads at most limit rows at text[pos:end] while they are plain, and returns the place of the first that is not.
// In a run the times must be what the run foretells. text is readable loadPad bytes past end, and text[end-1] is a line feed.
func (l *Layout) quickRows(text []byte, pos, end int, r *Rows, limit int) int {
	x, t, from := &r.index, &r.template, r.N
	running := t.run.left > 0
	limit = min(limit, r.capacity()-from)
	for want := 0; r.N-from < limit && pos < end; pos = x.pos {
		if (x.pos != pos || x.row == len(x.ends)) && !x.fill(text, pos, end, l.Delim, l.Cells, min(limit, indexBlock/32)*32) {
			break
		}
		want = min(limit-(r.N-from), len(x.ends)-x.row, batch)
		n := l.wholeRows(text, r, want)
		for k := range r.steps {
			s := &r.steps[k]
			switch {
			case s.value >= 0:
				n = l.column(text, r, s, r.Value[s.value][r.N:r.N+n])
			case running:
				n = t.run.column(text, r, s.cell, n)
			default:
				n = l.column(text, r, s, r.Time[r.N:r.N+n])
			}
		}
		if n > 0 && l.Time >= 0 {
			i, j := x.cell(n-1, l.Time)
			t.last, _ = within(text, i, j)
		}
		x.pass(n)
		if r.N += n; n < want {
			pos = x.pos
			break
		}
	}
	if running {
		t.run.end(r, from, r.N-from, t.timeOver)
	}
	return pos
}

// wholeRows counts the next rows, want at most, that have as many cells as there should be.
func (l *Layout) wholeRows(text []byte, r *Rows, want int) int {
	x, need := &r.index, l.need()
	first := x.first
	for n, last := range x.ends[x.row : x.row+want] {
		if cells := int(last - first); cells != l.Cells || !r.plain {
			starts := x.starts[first : last+1]
			if cells < need || cells > l.Cells && !l.emptyFrom(text, starts) || !r.plain && !l.wellFormed(text, starts) {
				return n
			}
		}
		first = last
	}
	return want
}

// column checks the times of the next n rows, and returns how many of them are as foretold.
func (u *run) column(text []byte, r *Rows, cell, n int) int {
	x := &r.index
	k := 0
	if hasVector && u.size <= vectorTime && u.lanes == math.MaxUint64 && n > 0 {
		v := x.cells(text, cell, 0, n)
		v.size, v.at, v.literal, v.step, v.pass, v.next = u.size, u.at, u.literal, u.step, u.pass, u.next
		for i := range v.want {
			v.want[i], v.mask[i] = byte(u.want[i/8]>>(i%8*8)), byte(u.mask[i/8]>>(i%8*8))
		}
		vectorTimes(&v)
		if k, u.next = n-v.rows, v.next; k == n {
			return n
		}
	}
	for ; k < n; k++ {
		i, j := x.cell(k, cell)
		if text[i] < '+' || text[j-1] <= '"' {
			i, j = within(text, i, j)
		}
		if i+int(u.size)-1 != j || !u.foretold((*window)(text[i:]), u.next) {
			return k
		}
		u.next = u.after(u.next)
	}
	return n
}

// within takes blanks and quotes off a cell.
func within(text []byte, from, to int) (i, j int) {
	c := Trim(text[from:to])
	i = cap(text) - cap(c)
	return i, i + len(c)
}

// column reads a cell of the next rows into out, and returns how many of them hold a number, or a mark where that is allowed.
func (l *Layout) column(text []byte, r *Rows, s *step, out []float64) int {
	x, points := &r.index, lanes8(l.Point)
	for n := 0; n < len(out); n++ {
		if hasVector {
			if n += s.vectorCells(text, x, l.Point, n, out[n:]); n == len(out) {
				break
			}
		}
		from, to := x.cell(n, s.cell)
		if v, ok := s.number(text, from, to, points); ok {
			out[n] = v
		} else if !l.cell(text, r, s, from, to, &out[n]) {
			out = out[:n]
		}
	}
	for n, t := range out {
		if s.value < 0 && math.Abs(t) > longestTime {
			return n
		}
	}
	return len(out)
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

// cell reads any cell of a column, and learns what exponents look like there.
func (l *Layout) cell(text []byte, r *Rows, s *step, from, to int, out *float64) (ok bool) {
	i, j := within(text, from, to)
	if points := lanes8(l.Point); i < j {
		if *out, ok = s.number(text, i, j, points); !ok {
			_, s.tail = exponentBefore(text, j)
			*out, ok = s.number(text, i, j, points)
		}
	}
	switch {
	case ok:
	case s.value >= 0:
		*out, ok = l.level(text[i:j], s.value, r)
	default:
		*out, ok = Float(text[i:j], l.Point, s.shift)
	}
	return ok
}

// plain reports whether there is no quote, and no carriage return but at the end of a line.
func plain(text []byte) bool {
	returns := bytes.Count(text, []byte{'\r'})
	return bytes.IndexByte(text, '"') < 0 && (returns == 0 || returns == bytes.Count(text, []byte("\r\n")))
}

// emptyFrom reports whether the cells of a row behind the table's are empty.
func (l *Layout) emptyFrom(text []byte, starts []uint32) bool {
	for k := l.Cells; k < len(starts)-1; k++ {
		if c := text[starts[k] : starts[k+1]-1]; len(c) > 0 && !(len(c) == 1 && c[0] == '\r') {
			return false
		}
	}
	return true
}

// wellFormed reports whether a row, in a text that is not plain, has quotes round whole cells only and a carriage return at
// its end only.
func (l *Layout) wellFormed(text []byte, starts []uint32) bool {
	for k := range starts[1:] {
		c := text[starts[k] : starts[k+1]-1]
		if k == len(starts)-2 && len(c) > 0 && c[len(c)-1] == '\r' {
			c = c[:len(c)-1]
		}
		if n := len(c); n > 1 && c[0] == '"' && c[n-1] == '"' {
			c = c[1 : n-1]
		}
		if bytes.IndexByte(c, '"') >= 0 || bytes.IndexByte(c, '\r') >= 0 {
			return false
		}
	}
	return true
}

// capacity is how many rows the columns hold.
func (r *Rows) capacity() int {
	n := math.MaxInt
	if len(r.Time) > 0 {
		n = len(r.Time)
	}
	if len(r.Value) > 0 {
		n = min(n, len(r.Value[0]))
	}
	return n
}
