package scan

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
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

// wholePower holds 10^0 … 10^16 as whole numbers.
var wholePower = func() (p [17]uint64) {
	p[0] = 1
	for i := 1; i < len(p); i++ {
		p[i] = p[i-1] * 10
	}
	return p
}()

// digits reads up to eight digits at b[i:]: their number and how many they are.
func digits(b []byte, i int) (number uint64, n int) {
	w := load8(b, i) ^ zeros
	n = bits.TrailingZeros64(notDigits(w)) >> 3 // 8 if every lane is a digit
	half := uint(32-4*n) & 63
	return eightDigits(w << half << half), n
}

// number reads a plain number at text[i:], times 10^shift; next is the place behind it, or -1 if it needs care.
func number(text []byte, i int, point byte, shift int) (f float64, next int) {
	f, n := shortNumber((*window)(text[i:]), point, shift)
	if n == 0 {
		return longNumber(text, i, point, shift)
	}
	return f, i + int(n)
}

// shortNumber is number for up to eight digits, or fifteen with a mark among the first of them: n is its length in bytes, or 0
// if it is none such. Neither the sign nor how many digits there are takes a branch, as both change from row to row.
func shortNumber(b *window, point byte, shift int) (f float64, n uint) {
	negative := is(b[0], '-')
	n = negative | is(b[0], '+')
	w := eight(b, n) ^ zeros
	other := notDigits(w)
	whole := uint(bits.TrailingZeros64(other)) >> 3
	if whole == 8 {
		return 0, 0
	}
	e := uint(shift + exactPower)
	n += whole
	digits := whole
	if b[n&place] == point {
		low := uint64(1)<<(8*whole&63) - 1
		w = w&low | (eight(b, n-whole+1)^zeros)&^low
		other = notDigits(w)
		digits = uint(bits.TrailingZeros64(other)) >> 3
		e -= digits - whole
		n += digits - whole + 1
	}
	var m uint64
	if digits < 8 {
		m = eightDigits(w << ((64 - 8*digits) & 63))
	} else {
		w2 := eight(b, n) ^ zeros
		k := uint(bits.TrailingZeros64(notDigits(w2))) >> 3
		if k == 8 {
			return 0, 0
		}
		half := (32 - 4*k) & 63
		m = eightDigits(w)*wholePower[k] + eightDigits(w2<<half<<half)
		e -= k
		n += k
	}
	if digits == 0 {
		return 0, 0
	}
	if b[n&place]|0x20 == 'e' {
		x, k := exponentAt(b, n)
		if k == 0 || x > plainExponent {
			return 0, 0
		}
		e += uint(x)
		n += k
	}
	if e >= uint(len(scales)) {
		return 0, 0
	}
	s := &scales[e]
	f = float64(int64(m)) * s.times / s.over
	return math.Float64frombits(math.Float64bits(f) | uint64(negative)<<63), n
}

// is gives 1 if c is the byte d, else 0, without a branch.
func is(c, d byte) uint { return (uint(c^d) - 1) >> (bits.UintSize - 1) }

// longNumber is number for more digits than two loads take.
func longNumber(b []byte, i int, point byte, shift int) (f float64, next int) {
	sign := b[i]
	if sign == '-' || sign == '+' {
		i++
	}
	m, n := digits(b, i)
	i += n
	if n == 8 { // more may follow
		m2, n2 := digits(b, i)
		m, i, n = m*wholePower[n2]+m2, i+n2, n+n2
	}
	e := shift + exactPower
	if b[i] == point {
		i++
		for n2 := 8; n2 == 8; {
			var m2 uint64
			m2, n2 = digits(b, i)
			if n += n2; n > maxDigits {
				return 0, -1
			}
			m, i, e = m*wholePower[n2]+m2, i+n2, e-n2
		}
	}
	if n == 0 || m > exactMantissa {
		return 0, -1
	}
	if b[i]|0x20 == 'e' {
		x, n := exponentAt((*window)(b[i:]), 0)
		if n == 0 || x > plainExponent {
			return 0, -1 // an overrange mark, more likely than not
		}
		e += x
		i += int(n)
	}
	if uint(e) >= uint(len(scales)) {
		return 0, -1
	}
	f = float64(int64(m)) * scales[e].times / scales[e].over
	if sign == '-' {
		f = -f
	}
	return f, i
}

// plainExponent is the greatest exponent behind which no number of ours, whatever its unit, is an overrange mark.
const plainExponent = 10

// exponentAt reads an exponent of one to three digits at place i: n is its length in bytes, or 0 if there is none.
func exponentAt(b *window, i uint) (e int, n uint) {
	sign := b[(i+1)&place]
	negative := is(sign, '-')
	n = 1 + (negative | is(sign, '+'))
	w := eight(b, i+n) ^ zeros
	digits := uint(bits.TrailingZeros64(notDigits(w))) >> 3
	if digits-1 > 2 {
		return 0, 0
	}
	w <<= (64 - 8*digits) & 63
	e = int(w>>56 + 10*(w>>48&0xff) + 100*(w>>40&0xff))
	return (e ^ -int(negative)) + int(negative), n + digits
}

// equals has a lane's top bit set where the lane holds the byte that pattern holds in each lane.
func equals(w, pattern uint64) uint64 {
	w ^= pattern
	return ^(w&^tops + ^uint64(tops) | w) & tops
}

// lanes8 holds a byte in each lane.
func lanes8(c byte) uint64 { return uint64(c) * lowBits }

const (
	quotes = '"' * lowBits
	blanks = ' ' * lowBits
)

// controls has a lane's top bit set where the lane holds a byte below the blank.
func controls(w uint64) uint64 { return ^((w | tops) - blanks | w) & tops }

// skip returns the place behind the next n delimiters at or after i; -1 if the row ends before, or there is a quote that
// does not stand round a whole cell.
func skip(b []byte, i, n int, delim byte) int {
	pattern := lanes8(delim)
	for {
		w := load8(b, i)
		d := equals(w, pattern)
		stop := (controls(w) | equals(w, quotes)) &^ d
		if stop != 0 {
			d &= stop&-stop - 1
		}
		k := bits.OnesCount64(d)
		if k >= n {
			for ; n > 1; n-- {
				d &= d - 1
			}
			return i + bits.TrailingZeros64(d)>>3 + 1
		}
		n -= k
		if stop == 0 {
			i += 8
			continue
		}
		if i = quoted(b, i+bits.TrailingZeros64(stop)>>3, delim); i < 0 {
			return -1
		}
	}
}

// skipRow returns the place of the line feed at or after i, and how many delimiters stand before it; -1 if a carriage return
// stands anywhere else than before it, or a quote does not stand round a whole cell. Sixteen bytes at a time, as the ends of
// rows with digits that come and go then mostly take as many rounds: that is what a branch foretells.
func skipRow(b []byte, i int, delim byte) (next, cells int) {
	pattern := lanes8(delim)
	for {
		c := (*[16]byte)(b[i:])
		w, v := binary.LittleEndian.Uint64(c[:8]), binary.LittleEndian.Uint64(c[8:])
		d, e := equals(w, pattern), equals(v, pattern)
		p, q := (controls(w)|equals(w, quotes))&^d, (controls(v)|equals(v, quotes))&^e
		if p|q == 0 {
			cells += bits.OnesCount64(d>>7 | e>>6)
			i += 16
			continue
		}
		both := (p|-p)>>63 - 1 // all bits if the first eight bytes go on
		cells += bits.OnesCount64(d&(p&-p-1)>>7 | e&(q&-q-1)&both>>6)
		i += bits.TrailingZeros64(p)>>3 + bits.TrailingZeros64(q)>>3&int(both)
		if b[i] == '\n' {
			return i, cells
		}
		if b[i] == '\r' && b[i+1] == '\n' {
			return i + 1, cells
		}
		if i = quoted(b, i, delim); i < 0 {
			return -1, 0
		}
	}
}

// quoted returns the place behind the quoted cell that begins at i; -1 if there is none.
func quoted(b []byte, i int, delim byte) int {
	if b[i] != '"' || i > 0 && b[i-1] != delim && b[i-1] != '\n' {
		return -1
	}
	for i++; b[i] != '"'; i++ {
		if b[i] == '\n' || b[i] == '\r' {
			return -1
		}
	}
	if i++; b[i] != delim && b[i] != '\n' && b[i] != '\r' {
		return -1
	}
	return i
}

// quick reports whether the layout is one that quickRows can read.
func (l *Layout) quick() bool {
	if l.Join >= 0 || l.TimeForm != PlainTime || l.Delim == Blanks {
		return false
	}
	for i, k := range l.Value {
		if k == l.Time || slices.Contains(l.Value[:i], k) {
			return false
		}
	}
	return true
}

// step is a wanted cell of a row: what lies between it and the one before is passed over.
type step struct {
	over  int // delimiters to pass over first, the one behind the cell before among them
	value int // which level it is; -1: the time
	shift int
}

// steps are the cells that are wanted, from left to right.
func (l *Layout) steps() []step {
	var s []step
	last := 0
	for k := range l.need() {
		value := slices.Index(l.Value, k)
		switch {
		case k == l.Time:
			s = append(s, step{k - last, value, l.TimeShift})
		case value >= 0:
			s = append(s, step{k - last, value, l.Shift[value]})
		default:
			continue
		}
		last = k
	}
	return s
}

// quickRows reads at most limit rows at text[pos:end] while they are plain, and returns the place of the first that is not.
// In a run the times must be what the run foretells. text is readable loadPad bytes past end, and text[end-1] is a line feed.
func (l *Layout) quickRows(text []byte, pos, end int, r *Rows, limit int) int {
	if r.paired() {
		return l.pairRows(text, pos, end, r, limit)
	}
	t := &r.template
	from := r.N
	n, limit := from, min(limit, r.capacity()-from)
	whole := max(l.Cells-l.need(), 0) // cells behind the last that is wanted
	u := &t.run
	running, next := u.left > 0, u.next
rows:
	for stop := from + limit; pos < end && n < stop; n++ {
		i, last := pos, t.last
		for k := range r.steps {
			s := &r.steps[k]
			if s.over > 0 {
				if k > 0 && text[i] != l.Delim {
					break rows
				}
				if s.over == 1 && k > 0 {
					i++
				} else if i = skip(text, i, s.over, l.Delim); i < 0 {
					break rows
				}
			}
			i = pastBlanks(text, i)
			quote := text[i] == '"'
			if quote {
				i++
			}
			switch {
			case s.value < 0 && running:
				if last = i; !u.foretold((*window)(text[i:]), next) {
					break rows
				}
				next = u.after(next)
				i += int(u.size) - 1
			case s.value < 0:
				last = i
				if r.Time[n], i = number(text, i, l.Point, s.shift); math.Abs(r.Time[n]) > longestTime {
					break rows
				}
			case s.shift == 0 && text[i]-'0' <= 9 && (text[i+1] == l.Delim || text[i+1] == '\n'): // a state, mostly
				r.Value[s.value][n] = float64(text[i] - '0')
				i++
			default:
				r.Value[s.value][n], i = number(text, i, l.Point, s.shift)
			}
			if i < 0 {
				break rows
			}
			if quote {
				if text[i] != '"' {
					break rows
				}
				i++
			}
			i = pastBlanks(text, i)
		}
		if text[i] == l.Delim && l.Delim != 0 {
			feed, more := skipRow(text, i+1, l.Delim)
			if feed < 0 || more >= whole && !(more == whole && l.emptyEnd(text, feed)) {
				break
			}
			i = feed
		}
		if text[i] == '\r' {
			i++
		}
		if text[i] != '\n' {
			break
		}
		pos, t.last = i+1, last
	}
	if running {
		u.end(r, from, n-from, t.timeOver)
	}
	r.N = n
	return pos
}

// paired reports whether a row is, of what is wanted, a time and then a level, in a text whose line ends are plain.
func (r *Rows) paired() bool { return len(r.steps) == 2 && r.steps[0].value < 0 && r.plain }

// plain reports whether there is no quote, and no carriage return but at the end of a line.
func plain(text []byte) bool {
	returns := bytes.Count(text, []byte{'\r'})
	return bytes.IndexByte(text, '"') < 0 && (returns == 0 || returns == bytes.Count(text, []byte("\r\n")))
}

// pairRows is quickRows for a time and then a level, written out: most wide tables are read for one of their channels. It
// expects the level's mark where it was in the row before.
func (l *Layout) pairRows(text []byte, pos, end int, r *Rows, limit int) int {
	t := &r.template
	from, spare, delim := r.N, max(l.Cells-l.need(), 0), l.Delim
	lead, over, shift := r.steps[0].over, r.steps[1].over, r.steps[1].shift
	limit = min(limit, r.capacity()-from)
	times, levels := r.Time[from:from+limit], r.Value[0][from:from+limit]
	u := &t.run
	running, next := u.left > 0, u.next
	mark, low, marked := uint(8), uint64(math.MaxUint64), uint(0) // digits before the mark, their lanes, 1 if there is one
	sep := [1]byte{delim}
	k := 0
	for ; k < len(levels) && k < len(times) && pos < end; k++ {
		i := pos
		if lead > 0 {
			if i = skip(text, i, lead, delim); i < 0 {
				break
			}
		}
		i = pastBlanks(text, i)
		last := i
		if running {
			if !u.foretold((*window)(text[i:]), next) {
				break
			}
			next = u.after(next)
			i += int(u.size) - 1
		} else if times[k], i = number(text, i, l.Point, l.TimeShift); i < 0 || math.Abs(times[k]) > longestTime {
			break
		}
		i = pastBlanks(text, i)
		if text[i] != delim {
			break
		}
		if over == 1 {
			i++
		} else if i = skip(text, i, over, delim); i < 0 {
			break
		}
		i = pastBlanks(text, i)

		at, b := i, (*window)(text[i:])
		feed := at + bytes.IndexByte(text[at:], '\n') // from here, so that the next row need not wait for this one's digits
		c := b[0]
		n := (uint((c-'+')&^2) - 1) >> (bits.UintSize - 1)
		w := eight(b, n)&low | eight(b, n+1)&^low ^ zeros
		digits := uint(bits.TrailingZeros64(notDigits(w))) >> 3
		e := uint(shift+exactPower) - (digits-mark)*marked
		like := digits-1 < 7 && (marked == 0 || digits >= mark && b[(n+mark)&place] == l.Point)
		if like {
			sign := uint64(n&uint(c>>2)) << 63
			n += digits + marked
			if b[n&place]|0x20 == 'e' {
				x, size := exponentAt(b, n)
				like = size > 0 && x <= plainExponent
				e += uint(x)
				n += size
			}
			if like = like && e < uint(len(scales)); like {
				s := &scales[e]
				levels[k] = math.Float64frombits(math.Float64bits(float64(int64(eightDigits(w<<((64-8*digits)&63))))*s.times/s.over) | sign)
				i += int(n)
				c = text[i]
				like = c == delim || c == '\n' || c == '\r' || c == ' '
			}
		}
		if !like {
			if levels[k], i = number(text, at, l.Point, shift); i < 0 {
				break
			}
			c = text[i]
			mark, low, marked = markIn(text[at:i], l.Point)
		}
		if c == ' ' {
			i = pastBlanks(text, i)
			c = text[i]
		}
		if c == delim {
			if marks := bytes.Count(text[at:feed], sep[:]); marks > spare && !(marks == spare+1 && l.emptyEnd(text, feed)) {
				break
			}
		} else if c != '\n' && c != '\r' {
			break
		}
		pos, t.last = feed+1, last
	}
	if running {
		u.end(r, from, k, t.timeOver)
	}
	r.N = from + k
	return pos
}

// markIn looks where the mark of a number is: how many digits stand before it, their lanes among eight, and 1 if there is a
// mark among the first of them.
func markIn(b []byte, point byte) (before uint, low uint64, marked uint) {
	i := bytes.IndexByte(b, point)
	if i >= 0 && (b[0] == '-' || b[0] == '+') {
		i--
	}
	if i < 0 || i > 7 {
		return 8, math.MaxUint64, 0
	}
	return uint(i), 1<<(8*i) - 1, 1
}

// pastBlanks returns the place of the first byte at or after i that is no blank.
func pastBlanks(text []byte, i int) int {
	for text[i] == ' ' {
		i += min(bits.TrailingZeros64(load8(text, i)^blanks), 63) >> 3
	}
	return i
}

// emptyEnd reports whether the row whose line feed stands at i ends in a delimiter.
func (l *Layout) emptyEnd(text []byte, i int) bool {
	if text[i-1] == '\r' {
		i--
	}
	return text[i-1] == l.Delim
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
