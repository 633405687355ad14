package stream

import (
	"bytes"
	"math"
)

// number is a decimal as printed: digits × 10^-places; where a unit of time was
// written behind it, converted to seconds.
type number struct {
	digits int64
	places int
	signed bool // a sign was printed
	unit   bool // a unit was written: the number is in seconds
	power  bool // a power of ten was written
}

func (n number) float() float64 { return float64(n.digits) / math.Pow10(n.places) }

// minus is n-m in printed units, exact where both have the same places and the difference fits 53 bits.
func (n number) minus(m number) float64 {
	if n.places == m.places {
		return float64(n.digits-m.digits) / math.Pow10(n.places)
	}
	return n.float() - m.float()
}

// maxDigits keeps a number inside an int64.
const maxDigits = 18

// parseNumber reads a decimal at the start of b and returns what follows it. Only digits, one point and a
// sign make a number here, or 0x and its digits: no exponent beyond e±dd, no "inf", "nan" or digit grouping.
func parseNumber(b []byte) (n number, rest []byte, ok bool) {
	i, minus := 0, false
	if i < len(b) && (b[i] == '+' || b[i] == '-') {
		minus, n.signed = b[i] == '-', true
		i++
	}
	if !n.signed {
		if digits, ok := bytes.CutPrefix(b, []byte("0x")); ok {
			return hexadecimal(digits)
		}
	}
	digits, point := 0, false
	for ; i < len(b); i++ {
		c := b[i]
		if c == '.' && !point {
			point = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		if digits++; digits > maxDigits {
			return number{}, nil, false
		}
		n.digits = n.digits*10 + int64(c-'0')
		if point {
			n.places++
		}
	}
	if digits == 0 {
		return number{}, nil, false
	}
	if minus {
		n.digits = -n.digits
	}
	if n, b, ok = exponent(n, b[i:]); !ok {
		return number{}, nil, false
	}
	return n, b, true
}

// hexadecimal reads what follows "0x".
func hexadecimal(b []byte) (n number, rest []byte, ok bool) {
	i := 0
	for ; i < len(b); i++ {
		k := bytes.IndexByte([]byte("0123456789abcdef"), b[i]|0x20)
		if k < 0 || b[i] < '0' {
			break
		}
		n.digits = n.digits<<4 | int64(k)
	}
	return n, b[i:], i > 0 && i < 16
}

// exponent reads e±dd, if it is there, and folds it into the places.
func exponent(n number, b []byte) (number, []byte, bool) {
	if len(b) < 2 || b[0]|0x20 != 'e' || !(b[1] == '-' || b[1] == '+' || b[1] >= '0' && b[1] <= '9') {
		return n, b, true
	}
	i, minus, e := 1, false, 0
	if b[1] == '-' || b[1] == '+' {
		minus = b[1] == '-'
		i++
	}
	first := i
	for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
		if e = e*10 + int(b[i]-'0'); e > maxDigits {
			return n, nil, false
		}
	}
	if i == first {
		return n, nil, false
	}
	if minus {
		e = -e
	}
	n.power = true
	for n.places -= e; n.places < 0; n.places++ {
		if n.digits > math.MaxInt64/10 || n.digits < math.MinInt64/10 {
			return n, nil, false
		}
		n.digits *= 10
	}
	return n, b[i:], true
}
