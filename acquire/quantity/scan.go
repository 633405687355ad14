package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// parser walks through the text of one quantity.
type parser struct {
	text string
	unit Unit
	at   int // byte offset

	signed bool // zero and negative values are read

	scaled bool // the value carries a prefix or a unit
}

func (p *parser) fail(at int, what, expect, do string) *Error {
	return &Error{Text: p.text, Offset: at, What: what, Expect: expect, Do: do}
}

// wanted describes a value of the unit.
func (p *parser) wanted() string {
	return units[p.unit].of + " such as " + units[p.unit].example
}

func (p *parser) rest() string { return p.text[p.at:] }
func (p *parser) end() bool    { return p.at >= len(p.text) }

func (p *parser) space() {
	p.at += len(p.rest()) - len(strings.TrimLeftFunc(p.rest(), unicode.IsSpace))
}

// take moves past one of the marks if it is next.
func (p *parser) take(marks ...string) bool {
	for _, m := range marks {
		if strings.HasPrefix(p.rest(), m) {
			p.at += len(m)
			return true
		}
	}
	return false
}

func digit(c byte) bool { return '0' <= c && c <= '9' }

// digits moves past a run of digits and returns it.
func (p *parser) digits() string {
	start := p.at
	for !p.end() && digit(p.text[p.at]) {
		p.at++
	}
	return p.text[start:p.at]
}

// word returns the run of letters and unit signs that begins at the cursor, which stays.
func (p *parser) word() string {
	rest := p.rest()
	n := strings.IndexFunc(rest, func(r rune) bool {
		return unicode.IsSpace(r) || unicode.IsDigit(r) || strings.ContainsRune("±+-−:().,", r)
	})
	if n < 0 {
		n = len(rest)
	}
	return rest[:n]
}

var minusSigns = []string{"-", "−"}

// number is what was read of the digits of a value. It keeps their decimal form, so that prefix and digits
// are rounded together, once.
type number struct {
	digits   string // with at most one point
	power    int    // of ten: from the exponent, the code letter, the prefix
	factor   float64
	minus    bool
	code     bool // an IEC 60062 letter stood for the point
	exponent bool
}

// value is the number as a float64; a problem is said in words.
func (n number) value() (v float64, problem string) {
	v, err := strconv.ParseFloat(fmt.Sprintf("%se%d", n.digits, n.power), 64)
	v *= n.factor
	switch {
	case err != nil || math.IsInf(v, 0):
		return 0, "too large"
	case v == 0 && strings.Trim(n.digits, "0.") != "":
		return 0, "too small"
	case n.minus:
		v = -v
	}
	return v, ""
}

// number reads digits with a point, a code letter in its place, or an exponent.
func (p *parser) number() (number, error) {
	n := number{factor: 1}
	start := p.at
	n.minus = p.take(minusSigns...)
	if n.minus || p.take("+") {
		p.space()
	}
	whole := p.digits()
	mark := p.at
	n.digits = whole
	if p.take(".", ",") {
		fraction := p.digits()
		if p.text[mark] == ',' && len(fraction) == 3 {
			return n, p.fail(mark, fmt.Sprintf("%q has a comma that can part the thousands or the decimals", p.text[start:p.at]), "a decimal point",
				"write "+whole+fraction+" or "+whole+"."+fraction)
		}
		if whole+fraction != "" {
			n.digits = whole + "." + fraction
		}
	}
	if power, size, ok := p.codeLetter(); ok {
		mark = p.at
		p.at += size
		fraction := p.digits()
		if strings.Contains(n.digits, ".") {
			return n, p.fail(mark, fmt.Sprintf("%q after a decimal point", p.text[mark:p.at]), "the letter in place of the point", "write such as 4k7 or 4.7k")
		}
		n.digits, n.power, n.code = whole+"."+fraction, power, true
		return n, nil
	}
	if n.digits == "" {
		what := "a number is missing"
		if w := strings.Fields(p.text[start:]); len(w) > 0 {
			what = fmt.Sprintf("%q is no number", w[0])
		}
		return n, p.fail(start, what, p.wanted(), "")
	}
	n.power, n.exponent = p.exponent()
	return n, nil
}

// codeLetter looks for a letter that stands for the decimal point: it has a digit after it.
func (p *parser) codeLetter() (power, size int, ok bool) {
	r, size := utf8.DecodeRuneInString(p.rest())
	next := p.at + size
	if next >= len(p.text) || !digit(p.text[next]) {
		return 0, 0, false
	}
	power, ok = p.unit.codeLetter(r)
	return power, size, ok
}

// exponent reads "e-9" if that comes next.
func (p *parser) exponent() (power int, ok bool) {
	rest := p.rest()
	if rest == "" || rest[0] != 'e' && rest[0] != 'E' {
		return 0, false
	}
	i := 1
	if i < len(rest) && (rest[i] == '+' || rest[i] == '-') {
		i++
	}
	j := i
	for j < len(rest) && digit(rest[j]) {
		j++
	}
	if j == i {
		return 0, false
	}
	p.at += j
	if j-i > 4 { // out of any float64's range, either way
		return map[bool]int{true: -9999, false: 9999}[rest[1] == '-'], true
	}
	power, _ = strconv.Atoi(rest[1:j])
	return power, true
}

// finish complains about whatever is left.
func (p *parser) finish() error {
	p.space()
	if p.end() {
		return nil
	}
	return p.fail(p.at, fmt.Sprintf("%q is left over", p.rest()), "nothing more", "")
}
