package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Exact is the shortest decimal that reads back as v, with no prefix and no unit: for CSV and JSON.
func Exact(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// String is the quantity in a form that Parse reads back to the same value and tolerance.
func (q Quantity) String() string {
	text := shortest(q.Value, q.Unit)
	t := q.Tolerance
	switch {
	case !t.Given():
		return text
	case q.Unit == Number && !t.Relative: // in per cent it would read as relative
		text = decimalOf(q.Value, -1).text() + " ± " + decimalOf(t.Plus, -1).text()
	case t.Minus == t.Plus && t.Relative:
		text += " ± " + percent(t.Plus)
	case t.Minus == t.Plus:
		text += " ± " + shortest(t.Plus, q.Unit)
	default:
		text += " +" + strings.TrimSuffix(percent(t.Plus), " %") + "/-" + percent(t.Minus)
	}
	if t.Coverage > 0 {
		text += " (k=" + strconv.FormatFloat(t.Coverage, 'f', -1, 64) + ")"
	}
	return text
}

// String is the tolerance for a person: "± 10 %", "+80/-20 %"; an absolute one in the unit of its value.
func (t Tolerance) String(unit Unit) string {
	full := Quantity{Value: 1, Unit: unit, Tolerance: t}.String()
	return strings.TrimSpace(strings.TrimPrefix(full, shortest(1, unit)))
}

// percent writes a ratio in per cent, exactly.
func percent(v float64) string {
	d := decimalOf(v, -1)
	d.power += 2
	return d.text() + " %"
}

// shortest writes all the digits of v with a prefix.
func shortest(v float64, unit Unit) string { return decimalOf(v, -1).withUnit(unit) }

// Format writes v with a prefix and at most four significant digits, trailing zeros left out.
func Format(v float64, unit Unit) string {
	d := decimalOf(v, 4)
	d.trim()
	return d.withUnit(unit)
}

// Uncertain writes v with the digits that a standard uncertainty of u warrants: down to the second digit of
// u (JCGM 100 7.2.6). An unknown u (0, NaN, infinite) gives four significant digits.
func Uncertain(v, u float64, unit Unit) string { return roundAt(v, lastDigit(v, u)).withUnit(unit) }

// PlusMinus writes v and u with one prefix: "(46.93 ± 0.14) kΩ"; v alone where u is unknown.
func PlusMinus(v, u float64, unit Unit) string {
	if !known(u) {
		return Uncertain(v, u, unit)
	}
	s := ScaleOf(unit, u, v, u)
	return "(" + s.Digits(v) + " ± " + s.Digits(u) + ") " + s.Unit
}

// Bare writes v and u as plain numbers, "0.2131 ± 0.0004", for a ratio that is not read in per cent.
func Bare(v, u float64) string {
	last := lastDigit(v, u)
	if !known(u) {
		return roundAt(v, last).text()
	}
	return roundAt(v, last).text() + " ± " + roundAt(u, last).text()
}

// Probability writes a probability in per cent so that nothing rounds to certainty: "78 %", "3.0 %", "> 99.9 %".
func Probability(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p >= 0.9995:
		return "> 99.9 %"
	case p < 0.0005:
		return "< 0.1 %"
	case p >= 0.995 || p < 0.0995:
		return strconv.FormatFloat(100*p, 'f', 1, 64) + " %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}

func known(u float64) bool { return u > 0 && !math.IsInf(u, 1) }

// lastDigit is the power of ten of the last digit to print: the second of u after rounding, else the fourth of v.
func lastDigit(v, u float64) int {
	if known(u) {
		return decimalOf(u, 2).power
	}
	return decimalOf(v, 4).power
}

// Scale is one prefix and one last digit for all the numbers of a row.
type Scale struct {
	Unit  string // prefix and unit, such as "kΩ"
	power int    // of ten, of the prefix
	last  int    // power of ten of the last digit
}

// ScaleOf fits a scale to the largest of the values; u sets the digits as in Uncertain.
func ScaleOf(unit Unit, u float64, values ...float64) Scale {
	largest := 0.0
	for _, v := range values {
		if a := math.Abs(v); a > largest && !math.IsInf(v, 0) {
			largest = a
		}
	}
	last := lastDigit(largest, u)
	power, symbol := roundAt(largest, last).prefix(unit)
	return Scale{symbol, power, last}
}

// Digits is v in the scale, without the unit.
func (s Scale) Digits(v float64) string {
	d := roundAt(v, s.last)
	d.power -= s.power
	return d.text()
}

// Format is v in the scale, with the unit.
func (s Scale) Format(v float64) string { return strings.TrimSpace(s.Digits(v) + " " + s.Unit) }

// decimal is sign, digits (an integer) and a power of ten: the rounded form that prefixes are chosen from,
// so that what is printed never reads 1000.0 k.
type decimal struct {
	sign   string
	digits string
	power  int
	odd    string // NaN and infinities: the text itself
}

// decimalOf rounds v to n significant digits; -1 keeps as many as read back to v.
func decimalOf(v float64, n int) decimal {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return decimal{odd: strings.Replace(strconv.FormatFloat(v, 'f', -1, 64), "Inf", "∞", 1)}
	}
	if n > 0 {
		n--
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'e', n, 64), "e")
	d := decimal{digits: strings.Replace(mantissa, ".", "", 1)}
	d.power, _ = strconv.Atoi(exponent)
	d.power -= len(d.digits) - 1
	if v < 0 {
		d.sign = "\u2212"
	}
	return d
}

// roundAt rounds v to a multiple of ten to the power last, but keeps seventeen digits at most.
func roundAt(v float64, last int) decimal {
	d := decimalOf(v, 17)
	n := d.top() - last + 1
	switch {
	case d.odd == "" && v == 0: // it has no first digit to count from
		return decimal{digits: "0", power: last}
	case d.odd != "" || n >= 17:
		return d
	case n > 0:
		r := decimalOf(v, n)
		if r.power > last { // the rounding carried into a new digit
			r.digits, r.power = r.digits+"0", last
		}
		return r
	case n == 0 && strings.TrimRight(d.digits, "0") > "5":
		return decimal{d.sign, "1", last, ""}
	}
	return decimal{digits: "0", power: last}
}

// top is the power of ten of the first digit.
func (d decimal) top() int { return d.power + len(d.digits) - 1 }

func (d *decimal) trim() {
	for len(d.digits) > 1 && strings.HasSuffix(d.digits, "0") {
		d.digits = d.digits[:len(d.digits)-1]
		d.power++
	}
}

// text writes the digits with a point where it belongs.
func (d decimal) text() string {
	switch {
	case d.odd != "":
		return d.odd
	case d.digits == "0" && d.power >= 0:
		return "0"
	case d.power >= 0:
		return d.sign + d.digits + strings.Repeat("0", d.power)
	case -d.power < len(d.digits):
		point := len(d.digits) + d.power
		return d.sign + d.digits[:point] + "." + d.digits[point:]
	}
	return d.sign + "0." + strings.Repeat("0", -d.power-len(d.digits)) + d.digits
}

// prefix chooses the power of ten to print in, and the unit with its prefix.
func (d decimal) prefix(unit Unit) (power int, symbol string) {
	u := units[unit]
	if u.shown != (spelling{}) {
		return u.shown.power, u.shown.text
	}
	if strings.Trim(d.digits, "0") == "" {
		return 0, u.symbol
	}
	for _, p := range prefixes {
		if p.power > u.most || p.text == "K" {
			continue
		}
		if d.top() >= p.power || p.power == u.least {
			return p.power, p.text + u.symbol
		}
	}
	return 0, u.symbol
}

// withUnit writes the digits with prefix and unit; far outside the prefixes with an exponent.
func (d decimal) withUnit(unit Unit) string {
	power, symbol := d.prefix(unit)
	far := d.top()-power > 11 || d.top()-power < -5
	if d.odd == "" && far && strings.Trim(d.digits, "0") != "" {
		e := d.top()
		m := decimal{d.sign, d.digits, 1 - len(d.digits), ""}
		return strings.TrimSpace(m.text() + "e" + strconv.Itoa(e) + " " + units[unit].symbol)
	}
	d.power -= power
	return strings.TrimSpace(d.text() + " " + symbol)
}

// Plural writes a count with its noun.
func Plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Relative writes a relative size in the unit that suits it: "0.31 %", "45 ppm".
func Relative(x float64) string {
	switch {
	case x == 0:
		return "0"
	case x < 1e-8:
		return "< 0.01 ppm"
	case x < 1e-3:
		return TwoDigits(1e6*x) + " ppm"
	}
	return TwoDigits(100*x) + " %"
}

// Change writes a relative change: "+12 %", "−45 ppm", from twice on and below a twentieth as a multiple, "× 5.7"; "equal"
// below 0.01 ppm. What changes its sign is no multiple.
func Change(x float64) string {
	switch {
	case math.Abs(x) < 1e-8:
		return "equal"
	case x >= 1 || x > -1 && x < -0.95:
		return "× " + TwoDigits(1+x)
	case x < 0:
		return "−" + Relative(-x)
	}
	return "+" + Relative(x)
}

// TwoDigits writes a size with two significant digits, never with an exponent.
func TwoDigits(x float64) string {
	if x >= 9.95 {
		return fmt.Sprintf("%.0f", x)
	}
	text := fmt.Sprintf("%.2g", x)
	if strings.Contains(text, "e") {
		x, _ = strconv.ParseFloat(text, 64)
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return text
}

// Span writes limits with one prefix: "3.52 … 4.40 ms".
func Span(low, high float64, unit Unit) string {
	s := ScaleOf(unit, 0, low, high)
	return s.Digits(low) + " … " + s.Format(high)
}

// Minus writes a text's ASCII minus signs as the sign of minus.
func Minus(text string) string { return strings.ReplaceAll(text, "-", "\u2212") }

// Rounded keeps so many significant digits of a value: the float64 nearest the decimal.
func Rounded(v float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil { // the digits are above all floats
		return v
	}
	return r
}

// Side says where a value lies against limits.
func Side(v, low, high float64) string {
	switch {
	case v < low:
		return "below"
	case v > high:
		return "above"
	}
	return "inside"
}
