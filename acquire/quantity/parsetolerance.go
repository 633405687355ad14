package quantity

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// ParseTolerance reads a tolerance that is written apart from its value, such as "10 %", "K" or "± 0.5 pF".
func ParseTolerance(text string, value float64, unit Unit) (Tolerance, error) {
	p := &parser{text: text, unit: unit, scaled: true}
	p.space()
	start := p.at
	p.take(plusMinus...)
	p.space()
	if p.end() {
		return Tolerance{}, p.fail(p.at, "the tolerance is missing", "one such as 10 %", "")
	}
	t, err := p.amount(value, true)
	if err != nil {
		return t, err
	}
	if err := p.finish(); err != nil {
		return t, err
	}
	if minus, _ := t.Absolute(value); minus >= value {
		return t, p.fail(start, "the tolerance reaches down to "+Exact(value-minus), "limits above zero", "")
	}
	return t, nil
}

var plusMinus = []string{"±", "+-", "+/-", "+−"}

// tolerance reads what may follow a value. The zero Tolerance means that nothing does.
func (p *parser) tolerance(value float64) (Tolerance, error) {
	if p.end() {
		return Tolerance{}, nil
	}
	marked := p.take(append(plusMinus, ":")...)
	p.space()
	if p.end() {
		return Tolerance{}, p.fail(p.at, "the tolerance is missing", "one such as 1 %", "")
	}
	return p.amount(value, marked)
}

// amount reads a letter, a symmetric or an asymmetric tolerance, and the coverage factor after it. Where no
// mark told that a tolerance follows, only a letter or a percentage is one.
func (p *parser) amount(value float64, marked bool) (Tolerance, error) {
	w := p.word()
	t, letter := letterTolerance(w, p.unit, value)
	_, _, code := p.codeLetter()
	var err error
	switch {
	case letter:
		p.at += len(w)
	case twoSides.MatchString(p.rest()):
		t, err = p.twoSides()
	case w != "" && !code && units[p.unit].coded:
		err = p.fail(p.at, fmt.Sprintf("%q is no tolerance", w), "a percentage such as 1 %, or one of the letters "+lettersOf(p.unit), "")
	default:
		t, err = p.symmetric(marked)
	}
	if err != nil {
		return Tolerance{}, err
	}
	t.Coverage, err = p.coverage()
	return t, err
}

// symmetric reads one number with "%", "ppm" or the value's unit.
func (p *parser) symmetric(marked bool) (Tolerance, error) {
	at := p.at
	n, err := p.number()
	if err != nil {
		return Tolerance{}, p.fail(at, fmt.Sprintf("%q is no tolerance", p.text[at:]), "one such as 1 %", "")
	}
	p.space()
	w := p.word()
	number := strings.TrimSpace(p.text[at:p.at])
	factor, power, unit := p.unit.word(w)
	relative := w == "%" || w == "ppm"
	switch {
	case relative:
		_, power, _ = Number.word(w)
		n.power += power
	case !marked:
		return Tolerance{}, p.fail(at, fmt.Sprintf("%q after the value", p.text[at:]), "a tolerance such as ± 1 %", "write a value without blanks among its digits")
	case w == "" && p.scaled && !n.code:
		return Tolerance{}, p.fail(at, fmt.Sprintf("the value has a unit and the tolerance %s has none", number), "both or neither", fmt.Sprintf("write such as %s %% or %s %s", number, number, units[p.unit].symbol))
	case (unit || n.code) && !p.scaled:
		return Tolerance{}, p.fail(at, "the tolerance has a unit and the value has none", "both or neither", "write the value's unit too")
	case unit:
		n.factor, n.power = factor, n.power+power
	case w != "":
		return Tolerance{}, p.fail(p.at, fmt.Sprintf("%q is no unit of a tolerance here", w), "%, ppm or "+units[p.unit].name, "")
	}
	p.at += len(w)
	size, problem := n.value()
	switch {
	case problem != "":
		return Tolerance{}, p.fail(at, fmt.Sprintf("the tolerance is %s a number", problem), "one such as 1 %", "")
	case n.minus:
		return Tolerance{}, p.fail(at, "the tolerance is negative", "one such as 1 %", "")
	case size == 0:
		return Tolerance{}, p.fail(at, "the tolerance is zero", "one above zero", "")
	}
	return Tolerance{Minus: size, Plus: size, Relative: relative}, nil
}

// twoSides matches "+80/-20 %", "-20/+80 %" and the like with blanks.
var twoSides = regexp.MustCompile(`^([+−-])\s*([0-9]+\.?[0-9]*)\s*%?\s*/?\s*([+−-])\s*([0-9]+\.?[0-9]*)\s*%`)

// twoSides reads a tolerance whose sides differ.
func (p *parser) twoSides() (Tolerance, error) {
	m := twoSides.FindStringSubmatch(p.rest())
	t := Tolerance{Relative: true}
	for i := 1; i < len(m); i += 2 {
		size, err := strconv.ParseFloat(m[i+1]+"e-2", 64)
		side := &t.Minus
		if m[i] == "+" {
			side = &t.Plus
		}
		if err != nil || size == 0 || *side != 0 {
			return t, p.fail(p.at, fmt.Sprintf("%q is no tolerance", m[0]), "one plus and one minus side, such as +80/-20 %", "")
		}
		*side = size
	}
	p.at += len(m[0])
	return t, nil
}

// coverage reads "(k=2)".
func (p *parser) coverage() (float64, error) {
	p.space()
	at := p.at
	if !p.take("(") {
		return 0, nil
	}
	inner, _, closed := strings.Cut(p.rest(), ")")
	digits, named := strings.CutPrefix(strings.ReplaceAll(inner, " ", ""), "k=")
	k, err := strconv.ParseFloat(digits, 64)
	if !closed || !named || err != nil || strings.Trim(digits, "0123456789.") != "" || k <= 0 {
		return 0, p.fail(at, fmt.Sprintf("%q is no coverage factor", p.text[at:]), "one such as (k=2)", "")
	}
	p.at += len(inner) + 1
	return k, nil
}
