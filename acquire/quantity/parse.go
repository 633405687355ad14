package quantity

import (
	"fmt"
	"strconv"
	"strings"
)

// Limits are the value less and plus its tolerance.
func (q Quantity) Limits() (low, high float64) {
	minus, plus := q.Tolerance.Absolute(q.Value)
	return q.Value - minus, q.Value + plus
}

// Parse reads a value with an optional tolerance, in the unit or with none. The value is finite and, but
// for a temperature coefficient, positive; so are both limits. Every failure is an *Error.
func Parse(text string, unit Unit) (Quantity, error) {
	return parse(text, unit, units[unit].signed)
}

// ParseSigned reads a value that may be zero or negative, such as a reference level. It takes no tolerance.
func ParseSigned(text string, unit Unit) (float64, error) {
	q, err := parse(text, unit, true)
	if err == nil && q.Tolerance.Given() {
		return 0, &Error{Text: text, What: "a tolerance on a plain value", Expect: "the value alone"}
	}
	return q.Value, err
}

func parse(text string, unit Unit, signed bool) (Quantity, error) {
	p := &parser{text: text, unit: unit, signed: signed}
	q := Quantity{Unit: unit, Text: text}
	p.space()
	if p.end() {
		return q, p.fail(p.at, "the value is missing", p.wanted(), "")
	}
	start := p.at
	var err error
	if q.Value, err = p.value(); err != nil {
		return q, err
	}
	p.space()
	if q.Tolerance, err = p.tolerance(q.Value); err != nil {
		return q, err
	}
	if err := p.finish(); err != nil {
		return q, err
	}
	if low, _ := q.Limits(); low <= 0 && q.Tolerance.Given() && !signed {
		return q, p.fail(start, "the tolerance reaches down to "+Exact(low), "limits above zero", "")
	}
	return q, nil
}

// value reads digits, prefix and unit.
func (p *parser) value() (float64, error) {
	start := p.at
	n, err := p.number()
	if err != nil {
		return 0, err
	}
	p.scaled = n.code
	if err := p.valueUnit(&n); err != nil {
		return 0, err
	}
	text := strings.TrimSpace(p.text[start:p.at])
	v, problem := n.value()
	switch {
	case problem != "":
		return 0, p.fail(start, fmt.Sprintf("%q is %s a number", text, problem), p.wanted(), "")
	case p.signed:
		return v, nil
	case n.minus:
		return 0, p.fail(start, fmt.Sprintf("%q is negative", text), "a positive value", "")
	case v == 0:
		return 0, p.fail(start, fmt.Sprintf("%q is zero", text), "a positive value", "")
	case p.unit == Farad && !p.scaled && !n.exponent:
		return p.bareFarad(n, start)
	}
	return v, nil
}

// valueUnit reads the prefix and unit after the digits; what may be a tolerance letter is left alone.
func (p *parser) valueUnit(n *number) error {
	digitsEnd := p.at
	p.space()
	start := p.at
	gap := start > digitsEnd
	w := p.word()
	last := len(w) - 1
	_, letter := letters[w]
	letter = letter && units[p.unit].coded
	factor, power, unit := p.unit.word(w)
	switch {
	case w == "":
	case p.unit == Farad && markingCode(n) && w == "F":
		return p.fail(start, fmt.Sprintf("%q can be %s farad, or the code %s with the tolerance letter F", p.text, n.digits, n.digits),
			"one of them", fmt.Sprintf("write %s ± 1 %%", Format(codeValue(n.digits), Farad)))
	case letter && !(p.unit == Farad && w == "F") && (n.code || p.unit == Farad && markingCode(n)):
	case n.code && unit && !p.unit.bareSpelling(w):
		return p.fail(start, fmt.Sprintf("%q after a code that has its prefix", w), "a tolerance or nothing", "")
	case unit:
		n.factor, n.power = factor, n.power+power
		p.at, p.scaled = start+len(w), true
		return p.farad(w, gap && n.code)
	case last > 0 && strings.Contains(attached, w[last:]) && p.unit.isPrefix(w[:last]):
		_, power, _ := p.unit.word(w[:last])
		n.power += power
		p.at, p.scaled = start+last, true
	case letter && gap:
	default:
		return p.wrongUnit(w, start)
	}
	return nil
}

// farad refuses an F that can be the unit or the tolerance letter: "100n F" and "4n7 F". w is the prefix
// or unit just read.
func (p *parser) farad(w string, apart bool) error {
	at := p.at - len(w)
	if p.unit != Farad {
		return nil
	}
	if !strings.HasSuffix(w, "F") {
		end := p.at
		p.space()
		at, apart = p.at, p.at > end && p.word() == "F"
		p.at = end
	}
	if !apart {
		return nil
	}
	return p.fail(at, "this F can be farad or the tolerance letter for 1 %", "one of them", "write such as 100nF or 100n ± 1 %")
}

// wrongUnit explains a word that is no unit of the wanted kind.
func (p *parser) wrongUnit(w string, at int) *Error {
	want := units[p.unit]
	expect, do := p.wanted(), ""
	if want.symbol != "" && !want.signed {
		expect = want.name + " (" + want.symbol + "), such as " + want.example
	}
	up := strings.ToUpper(w)
	_, letter := letters[up]
	other, known := p.unit.otherUnit(w)
	what := fmt.Sprintf("%q is no unit of %s", w, strings.TrimPrefix(want.of, "a "))
	switch {
	case known:
		what = fmt.Sprintf("%q is a unit of %s", w, units[other].of)
	case letter && up != w && want.coded:
		do = "a tolerance letter is a capital: " + up
	case strings.ContainsAny(w[:1], "_xX"):
		what, expect = fmt.Sprintf("%q among the digits", w[:1]), "decimal digits"
	}
	return p.fail(at, what, expect, do)
}

// markingCode says whether a number has the form of a capacitor's three-digit code.
func markingCode(n *number) bool {
	return len(n.digits) == 3 && !strings.Contains(n.digits, ".") && n.digits[0] != '0' && !n.exponent && !n.code
}

// codeValue is a three-digit code in farad: two figures and a power of ten in pF, where 8 stands for 10^-2
// and 9 for 10^-1 (IEC 60062; 8 and 9 from memory).
func codeValue(s string) float64 {
	power := int(s[2] - '0')
	if power >= 8 {
		power -= 10
	}
	v, _ := strconv.ParseFloat(fmt.Sprintf("%se%d", s[:2], power-12), 64)
	return v
}

// bareFarad reads a capacitor written as a number with neither prefix nor unit.
func (p *parser) bareFarad(n number, start int) (float64, error) {
	switch {
	case !markingCode(&n):
		return 0, p.fail(start, fmt.Sprintf("%q has neither prefix nor unit", n.digits), p.wanted(), "")
	case n.digits[2] == '0':
		return 0, p.fail(start, fmt.Sprintf("%q can be the code for %s pF, or %s pF", n.digits, n.digits[:2], n.digits), "a capacitance with its prefix",
			fmt.Sprintf("write %sp or %sp", n.digits[:2], n.digits))
	}
	p.scaled = true
	return codeValue(n.digits), nil
}
