package scan

import (
	"bytes"
	"regexp"
	"strconv"
)

// Decimal is a number as it was written: Mantissa × 10^Exp, negative if Neg.
type Decimal struct {
	Mantissa uint64
	Exp      int
	Neg      bool
	Exact    bool // false: there are more digits than Mantissa holds, and it means nothing
	Unit     int  // power of ten of the last digit written
	Digits   int  // digits written, from the first that is not zero
	Sci      bool // written with an exponent
}

// maxDigits is how many decimal digits always fit a uint64.
const maxDigits = 19

// maxExponent is past anything a float64 can tell from zero or infinity.
const maxExponent = 100_000

// ParseDecimal reads b wholly: sign, digits with at most one decimal mark (the byte point) among them, and an
// exponent of ten, after e or, with its sign, d. Digits may be grouped by threes, see Grouped. Nothing else is a number: no
// "inf", no hexadecimal, no underscores.
func ParseDecimal(b []byte, point byte) (d Decimal, ok bool) {
	if d, ok = parseDecimal(b, point); ok || len(b) < 5 || len(b) > longestGrouped || !Grouped(b, point) {
		return d, ok
	}
	var room [longestGrouped]byte
	return parseDecimal(ungroup(b, room[:0], point), point)
}

// longestGrouped, in bytes, is past any number whose digits someone groups.
const longestGrouped = 64

// parseDecimal is ParseDecimal of digits that are not grouped.
func parseDecimal(b []byte, point byte) (d Decimal, ok bool) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.Neg = b[i] == '-'
		i++
	} else if d.Neg = len(b) > 3 && (string(b[:3]) == "\u2212" || string(b[:3]) == "\u2013"); d.Neg {
		i = 3
	}
	d.Exact = true
	seen, fraction := false, false
	for ; i < len(b); i++ {
		c := b[i]
		if c == point && !fraction {
			fraction = true
			continue
		}
		if c -= '0'; c > 9 {
			break
		}
		seen = true
		if fraction {
			d.Exp--
		}
		if d.Digits == 0 && c == 0 {
			continue
		}
		d.Digits++
		if d.Digits > maxDigits {
			d.Exact = false
			continue
		}
		d.Mantissa = d.Mantissa*10 + uint64(c)
	}
	if !seen {
		return d, false
	}
	if i < len(b) {
		e, ok := exponent(b[i:])
		if !ok {
			return d, false
		}
		d.Sci = true
		d.Exp += e
	}
	d.Unit = d.Exp
	return d, true
}

// Significant counts the digits up to the last that is not zero.
func (d Decimal) Significant() int {
	m, n := d.Mantissa, d.Digits
	for n > 0 && m%10 == 0 {
		m, n = m/10, n-1
	}
	return n
}

// exponent reads "e-03" wholly.
func exponent(b []byte) (e int, ok bool) {
	if len(b) < 2 || b[0]|0x20 != 'e' && !(b[0]|0x20 == 'd' && (b[1] == '-' || b[1] == '+')) {
		return 0, false
	}
	i, neg := 1, false
	if b[i] == '-' || b[i] == '+' {
		neg = b[i] == '-'
		i++
	}
	if i == len(b) {
		return 0, false
	}
	for ; i < len(b); i++ {
		c := b[i] - '0'
		if c > 9 {
			return 0, false
		}
		if e < maxExponent {
			e = e*10 + int(c)
		}
	}
	if neg {
		e = -e
	}
	return e, true
}

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// exactPower is the highest power in pow10.
const exactPower = len(pow10) - 1

// exactMantissa: whole numbers up to here are float64 numbers.
const exactMantissa = 1 << 53

// Float returns the float64 nearest to the decimal times 10^shift, rounded once, as strconv.ParseFloat rounds.
// text is what the decimal was read from.
func (d Decimal) Float(text []byte, point byte, shift int) float64 {
	e := d.Exp + shift
	if !d.Exact || d.Mantissa > exactMantissa || e < -exactPower || e > exactPower {
		return slowFloat(text, point, shift, d.Neg)
	}
	f := float64(d.Mantissa) // exact, so that the one operation below is the only rounding (Clinger, PLDI 1990)
	if e < 0 {
		f /= pow10[-e]
	} else {
		f *= pow10[e]
	}
	if d.Neg {
		f = -f
	}
	return f
}

// slowFloat hands the number to strconv with the decimal mark and the exponent made plain; out of range gives ±Inf or ±0.
func slowFloat(b []byte, point byte, shift int, negative bool) float64 {
	var room [64]byte
	out := room[:0]
	if negative {
		out = append(out, '-')
	}
	exp := 0
	for i, c := range b {
		if c|0x20 == 'e' || c|0x20 == 'd' {
			exp, _ = exponent(b[i:])
			break
		}
		switch {
		case c == point:
			out = append(out, '.')
		case c-'0' <= 9:
			out = append(out, c)
		}
	}
	out = append(out, 'e')
	out = strconv.AppendInt(out, int64(exp+shift), 10)
	f, _ := strconv.ParseFloat(string(out), 64)
	return f
}

// Float reads b wholly as a number and returns it times 10^shift.
func Float(b []byte, point byte, shift int) (float64, bool) {
	d, ok := ParseDecimal(b, point)
	if !ok {
		return 0, false
	}
	return d.Float(b, point, shift), true
}

// Pow10 is 10^n as the nearest float64.
func Pow10(n int) float64 {
	f, _ := Float([]byte{'1'}, '.', n)
	return f
}

// groupings are numbers whose digits are grouped by threes, by decimal mark: 1 234, 12'345.6, 1,234,567, 0.001 25.
var groupings = map[byte]*regexp.Regexp{'.': groupingOf(`\.`, ","), ',': groupingOf(",", `\.`)}

func groupingOf(point, other string) *regexp.Regexp {
	const blank = `[ \x{a0}\x{2009}\x{202f}]`
	return regexp.MustCompile(`^(?:[-+]|\x{2212})?(?:[1-9]\d{0,2}(?:(?:` + blank + `\d{3})+|(?:['\x{2019}]\d{3})+|(?:` + other + `\d{3})+)(?:` + point + `\d+)?|\d+` + point + `\d{3}(?:` + blank + `\d{1,3})+)$`)
}

// Grouped reports whether a cell is a number whose digits are grouped by threes.
func Grouped(b []byte, point byte) bool {
	if len(b) < 5 || b[len(b)-1]-'0' > 9 { // the pattern is slow
		return false
	}
	i := bytes.IndexFunc(b[1:], func(r rune) bool { return r < '0' || r > '9' }) + 1
	if apart := bytes.IndexAny(b, " '\u00a0\u2009\u202f\u2019") >= 0; i == 0 || !apart && (b[i] == point || i+4 > len(b) || i+4 < len(b) && b[i+4]-'0' <= 9) {
		return false
	}
	return groupings[point] != nil && groupings[point].Match(b)
}

// ungroup takes what groups the digits of a number out, into room.
func ungroup(b, room []byte, point byte) []byte {
	for _, c := range b {
		if c-'0' <= 9 || c == point || c == '+' || c == '-' {
			room = append(room, c)
		}
	}
	if b[0] == 0xe2 { // a minus of its own
		room = append([]byte{'-'}, room...)
	}
	return room
}

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
