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

// number reads a plain number at b[i:], times 10^shift; next is the place behind it, or -1 if it needs care.
func number(b []byte, i int, point byte, shift int) (f float64, next int) {
	sign := b[i]
	if sign == '-' || sign == '+' {
		i++
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

// skip returns the place of the next delim or line feed at or after i; a quote or a carriage return needs care: -1.
func skip(b []byte, i int, delim byte) int {
	for {
		switch b[i] {
		case delim, '\n':
			return i
		case '"', '\r':
			return -1
		}
		i++
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

// fits reports whether row n fits the columns.
func (r *Rows) fits(n int) bool {
	if len(r.Time) > 0 && n >= len(r.Time) {
		return false
	}
	return len(r.Value) == 0 || n < len(r.Value[0])
}
