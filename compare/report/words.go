package report

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// units of the JSON's "unit" strings.
var units = map[string]quantity.Unit{"ohm": quantity.Ohm, "F": quantity.Farad, "s": quantity.Second, "Hz": quantity.Hertz, "1": quantity.Number, "V": quantity.Volt}

// timeRow is one quantity of a pulse train: its JSON name, its name in words, its unit.
type timeRow struct {
	key, name string
	unit      quantity.Unit
}

var timeRows = []timeRow{
	{"high_time", "high time", quantity.Second},
	{"low_time", "low time", quantity.Second},
	{"period", "period", quantity.Second},
	{"frequency", "frequency", quantity.Hertz},
	{"duty_factor", "duty factor", quantity.Number},
}

// pick returns the quantities of t in the order of timeRows.
func pick[T any](t *compare.Times[T]) [5]*T {
	return [5]*T{t.High, t.Low, t.Period, t.Frequency, t.Duty}
}

// Percent writes a probability so that nothing rounds to certainty.
func Percent(p float64) string { return quantity.Probability(p) }

// span writes limits with one prefix: "3.52 … 4.40 ms".
func span(low, high float64, unit quantity.Unit) string {
	s := quantity.ScaleOf(unit, 0, low, high)
	return s.Digits(low) + " … " + s.Format(high)
}

// among writes a value with the digits that span gives the limits it belongs to.
func among(v, low, high float64, unit quantity.Unit) string {
	return quantity.ScaleOf(unit, 0, low, high).Format(v)
}

// toleranceOf writes a part's limits as tolerance: "10 kΩ ± 1 %", "10 µF +50/-10 %".
func toleranceOf(q compare.Part) string {
	minus, plus := 1-q.Limits[0]/q.Nominal, q.Limits[1]/q.Nominal-1
	text := quantity.Format(q.Nominal, units[q.Unit])
	if math.Abs(minus-plus) < 1e-6 {
		return text + " ± " + short(100*plus) + " %"
	}
	return text + " +" + short(100*plus) + "/-" + short(100*minus) + " %"
}

// short writes a plain number with up to four digits.
func short(x float64) string { return fmt.Sprintf("%.4g", x) }

// relative writes a relative size in the unit that suits it: "0.31 %", "45 ppm".
func relative(x float64) string {
	switch {
	case x == 0:
		return "0"
	case x < 1e-8:
		return "< 0.01 ppm"
	case x < 1e-3:
		return twoDigits(1e6*x) + " ppm"
	}
	return twoDigits(100*x) + " %"
}

// twoDigits writes a size with two significant digits, never with an exponent.
func twoDigits(x float64) string {
	if x >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.2g", x)
}

// change writes how far a value lies from its nominal: "+24 %", "22 times".
func change(v, nominal float64) string {
	r := v / nominal
	if r > 3 {
		return twoDigits(r) + " times"
	}
	return fmt.Sprintf("%+.2g %%", 100*(r-1))
}

// changed writes a relative change with its standard uncertainty in the unit that suits it: "+1.20 ± 0.02 %".
func changed(v, u float64) string {
	scale, unit := 100.0, "%"
	if max(math.Abs(v), u) < 1e-3 {
		scale, unit = 1e6, "ppm"
	}
	decimals := 0
	if s := scale * u; s > 0 {
		decimals = max(0, 1-int(math.Floor(math.Log10(s))))
	}
	return fmt.Sprintf("%s ± %.*f %s", signed(decimals, scale*v), decimals, scale*u, unit)
}

// signed writes a difference with its sign; what rounds to nothing has none.
func signed(decimals int, v float64) string {
	text := strings.Replace(fmt.Sprintf("%+.*f", decimals, v), "-", "\u2212", 1)
	if strings.Trim(text, "+\u22120.") == "" {
		return strings.Trim(text, "+\u2212")
	}
	return text
}

// plural writes a count with its noun.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func spaced(s string) string { return strings.ReplaceAll(s, "_", " ") }
