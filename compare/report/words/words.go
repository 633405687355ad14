// Package words writes what a report says in numbers: values with limits, differences, counts, the names of the times. Every
// renderer takes them from here, so that one number reads alike on the screen, on a page and in a picture.
package words

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// Among writes a value with the digits that Span gives the limits it belongs to.
func Among(v, low, high float64, unit quantity.Unit) string {
	return quantity.ScaleOf(unit, 0, low, high).Format(v)
}

// Tolerance writes a part's limits as tolerance: "10 kΩ ± 1 %", "10 µF +50/−10 %".
func Tolerance(q *compare.Part) string {
	minus, plus := 1-q.Limits[0]/q.Nominal, q.Limits[1]/q.Nominal-1
	text := quantity.Format(q.Nominal, quantity.InJSON[q.Unit])
	if math.Abs(minus-plus) < 1e-6 {
		return text + " ± " + Short(100*plus) + " %"
	}
	return text + " +" + Short(100*plus) + "/" + quantity.Minus("-"+Short(100*minus)) + " %"
}

// Short writes a plain number with up to four digits.
func Short(x float64) string { return fmt.Sprintf("%.4g", x) }

// Deviation writes how far x lies from its nominal: two significant digits, no finer than a tenth of a per cent and the second
// digit of x's standard uncertainty u; beyond twice the nominal as a multiple: "+23 %", "−6.1 %", "× 22".
func Deviation(x, u, nominal float64) string {
	const floor = 1e-2 // its second digit is a tenth of a per cent
	r := x/nominal - 1
	if r >= 1 {
		return "× " + quantity.TwoDigits(x/nominal)
	}
	text := quantity.ScaleOf(quantity.Number, max(u/nominal, math.Abs(r), floor), r).Format(r)
	switch {
	case !strings.ContainsAny(text, "123456789"):
		return "equal"
	case r > 0:
		return "+" + text
	}
	return quantity.Minus(text)
}

// Changed writes a relative change with its standard uncertainty in the unit that suits it: "+1.20 ± 0.02 %".
func Changed(v, u float64) string {
	scale, unit := 100.0, "%"
	if max(math.Abs(v), u) < 1e-3 {
		scale, unit = 1e6, "ppm"
	}
	decimals := 0
	if s := scale * u; s > 0 {
		decimals = max(0, 1-int(math.Floor(math.Log10(s))))
	}
	return fmt.Sprintf("%s ± %.*f %s", Signed(decimals, scale*v), decimals, scale*u, unit)
}

// Signed writes a difference with its sign; what rounds to zero has none.
func Signed(decimals int, v float64) string {
	text := quantity.Minus(fmt.Sprintf("%+.*f", decimals, v))
	if strings.Trim(text, "+\u22120.") == "" {
		return strings.Trim(text, "+\u2212")
	}
	return text
}

// Source names a capture; with its record where the source has several.
func Source(c *compare.Capture, all []compare.Capture) string {
	for i := range all {
		if all[i].Source == c.Source && all[i].Record != c.Record {
			return fmt.Sprintf("%s record %d", c.Source, c.Record)
		}
	}
	return c.Source
}
