package scan

import (
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

// shortNumber reads a number without sign and exponent whose digits, its mark among them, end within fifteen bytes, by one
// load of eight or two; next is 0 if it is none such.
func shortNumber(b []byte, i int, point byte, shift int) (f float64, next int) {
	w := load8(b, i) ^ zeros
	other := notDigits(w)
	whole := bits.TrailingZeros64(other) >> 3
	n, end, e := whole, whole, shift
	var m uint64
	if whole < 8 && b[i+whole] == point {
		end = bits.TrailingZeros64(other&(other-1)) >> 3
		low := uint64(1)<<(8*whole) - 1
		w = w&low | w>>8&^low
		n = end - 1
		e -= n - whole
		if end == 8 {
			w2 := load8(b, i+8) ^ zeros
			k := bits.TrailingZeros64(notDigits(w2)) >> 3
			if k == 8 {
				return 0, 0
			}
			half := uint(32-4*k) & 63
			m, w = eightDigits(w<<8), w2<<half<<half
			m = m*wholePower[k] + eightDigits(w)
			end += k
			e -= k
			n = 0
		}
	}
	if n > 0 {
		half := uint(32-4*n) & 63
		m = eightDigits(w << half << half)
	}
	if end == 0 || whole == 8 || end == 1 && n == 0 || b[i+end]|0x20 == 'e' || uint(e+exactPower) >= uint(len(scales)) {
		return 0, 0
	}
	s := &scales[e+exactPower]
	return float64(int64(m)) * s.times / s.over, i + end
}

// number reads a plain number at b[i:], times 10^shift; next is the place behind it, or -1 if it needs care.
func number(b []byte, i int, point byte, shift int) (f float64, next int) {
	sign := b[i]
	if sign == '-' || sign == '+' {
		i++
	}
	if f, next := shortNumber(b, i, point, shift); next > 0 {
		if sign == '-' {
			f = -f
		}
		return f, next
	}
	m, n := digits(b, i)
	if n == 0 {
		return 0, -1
	}
	i += n
	if n == 8 { // more may follow
		m2, n2 := digits(b, i)
		m, i, n = m*wholePower[n2]+m2, i+n2, n+n2
	}
	e := shift
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
	if m > exactMantissa {
		return 0, -1
	}
	if b[i]|0x20 == 'e' {
		x, next := exponentAt(b, i)
		if next < 0 {
			return 0, -1
		}
		if x > plainExponent {
			return 0, -1 // an overrange mark, more likely than not
		}
		i = next
		e += x
	}
	e += exactPower
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

// exponentAt reads an exponent of one to three digits at b[i:]; next is -1 if there is none.
func exponentAt(b []byte, i int) (e, next int) {
	i++
	neg := b[i] == '-'
	if neg || b[i] == '+' {
		i++
	}
	x, n := digits(b, i)
	if n == 0 || n > 3 {
		return 0, -1
	}
	e = int(x)
	if neg {
		e = -e
	}
	return e, i + n
}

// equals has a lane's top bit set where the lane holds the byte that pattern holds in each lane.
func equals(w, pattern uint64) uint64 {
	w ^= pattern
	return ^(w&^tops + ^uint64(tops) | w) & tops
}

// lanes8 holds a byte in each lane.
func lanes8(c byte) uint64 { return uint64(c) * lowBits }

const (
	feeds   = '\n' * lowBits
	returns = '\r' * lowBits
	quotes  = '"' * lowBits
)

// skip returns the place of the next delim or line feed at or after i; a quote or a carriage return needs care: -1.
func skip(b []byte, i int, delim byte) int {
	pattern := lanes8(delim)
	for {
		w := load8(b, i)
		if m := equals(w, pattern) | equals(w, feeds) | equals(w, quotes) | equals(w, returns); m != 0 {
			i += bits.TrailingZeros64(m) >> 3
			if b[i] == '"' || b[i] == '\r' {
				return -1
			}
			return i
		}
		i += 8
	}
}

// skipRow returns the place of the line feed at or after i, and how many delimiters stand before it; a quote, or a carriage
// return that is not before the line feed, needs care: -1.
func skipRow(b []byte, i int, delim byte) (next, cells int) {
	pattern := lanes8(delim)
	for {
		w := load8(b, i)
		d, q, end := equals(w, pattern), equals(w, quotes)|equals(w, returns), equals(w, feeds)
		if end == 0 && q == 0 {
			cells += bits.OnesCount64(d)
			i += 8
			continue
		}
		stop := end | q
		before := stop&-stop - 1
		cells += bits.OnesCount64(d & before)
		i += bits.TrailingZeros64(stop) >> 3
		if b[i] == '\r' && b[i+1] == '\n' {
			i++
		}
		if b[i] != '\n' {
			return -1, 0
		}
		return i, cells
	}
}

// quick reports whether the layout is one that quickRows can read.
func (l *Layout) quick() bool {
	if l.Join >= 0 || l.TimeForm != PlainTime || l.Delim == Blanks {
		return false
	}
	for i, k := range l.Value {
		for _, j := range l.Value[:i] {
			if j == k {
				return false
			}
		}
	}
	return true
}

// roles says for each cell what it holds: the time, a level's number, or nothing wanted.
const (
	notWanted = -1
	timeRole  = -2
)

func (l *Layout) roles() []int {
	r := make([]int, max(l.need(), l.Cells))
	for k := range r {
		r[k] = notWanted
	}
	for i, k := range l.Value {
		r[k] = i
	}
	if l.Time >= 0 {
		r[l.Time] = timeRole
	}
	return r
}

// quickRows reads at most limit rows at text[pos:end] while they are plain, and returns the place of the first
// that is not. text is readable loadPad bytes past end, and text[end-1] is a line feed.
func (l *Layout) quickRows(text []byte, pos, end int, r *Rows, limit int) int {
	n := r.N
	need := l.need()
	whole := len(r.roles) - need // cells behind the last that is wanted
	if l.Delim == 0 {
		whole = 0
	}
rows:
	for pos < end && limit > 0 && r.fits(n) {
		i, k := pos, 0
		for ; ; k++ {
			for text[i] == ' ' {
				i++
			}
			role := notWanted
			if k < len(r.roles) {
				role = r.roles[k]
			} else if text[i] != '\n' && text[i] != '\r' {
				break rows
			}
			switch {
			case role == notWanted:
				i = skip(text, i, l.Delim)
			case role == timeRole:
				if r.Time[n], i = number(text, i, l.Point, l.TimeShift); math.Abs(r.Time[n]) > longestTime {
					break rows
				}
			case text[i]-'0' <= 9 && (text[i+1] == l.Delim || text[i+1] == '\n') && l.Shift[role] == 0: // a state, mostly
				r.Value[role][n] = float64(text[i] - '0')
				i++
			default:
				r.Value[role][n], i = number(text, i, l.Point, l.Shift[role])
			}
			if i < 0 {
				break rows
			}
			for text[i] == ' ' {
				i++
			}
			if text[i] != l.Delim || l.Delim == 0 {
				break
			}
			i++
			if k+1 == need && whole > 0 {
				next, more := skipRow(text, i, l.Delim)
				if next < 0 || more >= whole && !(more == whole && l.emptyEnd(text, next)) {
					break rows
				}
				i = next
				break
			}
		}
		if text[i] == '\r' {
			i++
		}
		if text[i] != '\n' || k+1 < need {
			break
		}
		pos = i + 1
		n++
		limit--
	}
	r.N = n
	return pos
}

// emptyEnd reports whether the row whose line feed stands at i ends in a delimiter.
func (l *Layout) emptyEnd(text []byte, i int) bool {
	if text[i-1] == '\r' {
		i--
	}
	return text[i-1] == l.Delim
}

// fits reports whether row n fits the columns.
func (r *Rows) fits(n int) bool {
	if len(r.Time) > 0 && n >= len(r.Time) {
		return false
	}
	return len(r.Value) == 0 || n < len(r.Value[0])
}
