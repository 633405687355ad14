// Package scan is the hot path: bytes of a table into columns of float64, without an allocation a row.
package scan

import "strconv"

// Decimal is a number as it was written: Mantissa × 10^Exp, negative if Neg.
type Decimal struct {
	Mantissa uint64
	Exp      int
	Neg      bool
	Exact    bool // false: more digits than Mantissa holds
	Unit     int  // power of ten of the last digit written
	Digits   int  // digits written in the mantissa from the first that is not zero
}

// maxDigits is how many decimal digits always fit a uint64.
const maxDigits = 19

// ParseDecimal reads b wholly: sign, digits with at most one decimal mark (the byte point) among them, and an
// exponent of ten. Nothing else is a number: no blanks, no "inf", no hexadecimal, no underscores.
func ParseDecimal(b []byte, point byte) (d Decimal, ok bool) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.Neg = b[i] == '-'
		i++
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
		if b[i] != 'e' && b[i] != 'E' {
			return d, false
		}
		i++
		neg := false
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			neg = b[i] == '-'
			i++
		}
		if i == len(b) {
			return d, false
		}
		e := 0
		for ; i < len(b); i++ {
			c := b[i] - '0'
			if c > 9 {
				return d, false
			}
			if e < 100000 {
				e = e*10 + int(c)
			}
		}
		if neg {
			e = -e
		}
		d.Exp += e
	}
	d.Unit = d.Exp
	if d.Digits > maxDigits {
		d.Exp += d.Digits - maxDigits
	}
	return d, true
}

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// exactMantissa is the largest run of whole numbers that a float64 holds exactly.
const exactMantissa = 1 << 53

// Float returns the float64 nearest to the decimal times 10^shift: one rounding, as strconv.ParseFloat does it.
func (d Decimal) Float(text []byte, point byte, shift int) float64 {
	e := d.Exp + shift
	if d.Exact && d.Mantissa <= exactMantissa && -22 <= e && e <= 22 {
		f := float64(d.Mantissa) // exact, so the one operation below rounds once (Clinger 1990)
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
	return slowFloat(text, point, shift)
}

// slowFloat hands the text to strconv with the decimal mark and the exponent made plain. Out of range gives
// ±Inf or 0, as strconv does.
func slowFloat(b []byte, point byte, shift int) float64 {
	var room [64]byte
	out := room[:0]
	exp := 0
	for i, c := range b {
		if c == 'e' || c == 'E' {
			exp, _ = strconv.Atoi(string(b[i+1:]))
			break
		}
		if c == point {
			c = '.'
		}
		out = append(out, c)
	}
	out = append(out, 'e')
	out = strconv.AppendInt(out, int64(exp+shift), 10)
	f, _ := strconv.ParseFloat(string(out), 64)
	return f
}

// Float reads b wholly as a number times 10^shift.
func Float(b []byte, point byte, shift int) (float64, bool) {
	d, ok := ParseDecimal(b, point)
	if !ok {
		return 0, false
	}
	return d.Float(b, point, shift), true
}
