package picture

import (
	"math"
	"strconv"

	"offbeat/acquire/quantity"
)

// scale maps a range of values onto a stretch of the canvas.
type scale struct{ from, to, a, b float64 }

func (s scale) at(v float64) float64 {
	if s.to == s.from {
		return (s.a + s.b) / 2
	}
	return s.a + (v-s.from)/(s.to-s.from)*(s.b-s.a)
}

// clamp is at, held inside the stretch.
func (s scale) clamp(v float64) float64 {
	return min(max(s.at(v), min(s.a, s.b)), max(s.a, s.b))
}

// step is the round distance (1, 2 or 5 times a power of ten) that divides span into about n parts.
func step(span float64, n int) float64 {
	if !(span > 0) || math.IsInf(span, 1) {
		return 1
	}
	raw := span / float64(max(n, 1))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// ticks are the multiples of a round step from lo to hi, about n of them but two at least: one alone gives no scale.
func ticks(lo, hi float64, n int) (at []float64, step_ float64) {
	for ; ; n *= 2 {
		if at, step_ = multiples(lo, hi, step(hi-lo, n)); len(at) > 1 || n > 16 {
			return at, step_
		}
	}
}

// multiples are those of d from lo to hi.
func multiples(lo, hi, d float64) (at []float64, step_ float64) {
	for k := math.Ceil(lo/d - 1e-9); k <= hi/d+1e-9 && len(at) < 100; k++ {
		at = append(at, k*d)
	}
	return at, d
}

// labels writes ticks with one prefix for all; unit is that prefix and unit.
func labels(at []float64, step float64, unit quantity.Unit) (text []string, symbol string) {
	if unit == quantity.Number && len(at) > 0 && max(math.Abs(at[0]), math.Abs(at[len(at)-1])) < 1e-3 {
		return texts(at, func(v float64) string { return plain(1e6*v, 1e6*step) }), "ppm"
	}
	s := quantity.ScaleOf(unit, 10*step, append([]float64{step}, at...)...) // its second digit is the step's first
	return texts(at, func(v float64) string { return digits(s, v) }), s.Unit
}

// texts writes each of some values.
func texts(at []float64, write func(v float64) string) []string {
	out := make([]string, len(at))
	for i, v := range at {
		out[i] = write(v)
	}
	return out
}

// plain writes a multiple of a step as a number without a unit.
func plain(v, step float64) string {
	return quantity.Minus(strconv.FormatFloat(math.Round(v/step)*step+0, 'g', 6, 64))
}

// digits writes a tick in a row's scale.
func digits(s quantity.Scale, v float64) string {
	if v == 0 {
		return "0"
	}
	return quantity.Minus(s.Digits(v))
}

// signed is minus with a plus sign before what is positive.
func signed(s string, v float64) string {
	if v > 0 {
		return "+" + s
	}
	return quantity.Minus(s)
}

// axisX draws a horizontal axis with its ticks, and its name with the unit below at the right.
func (c *canvas) axisX(s scale, y float64, n int, unit quantity.Unit, name string) {
	at, d := ticks(s.from, s.to, n)
	text, symbol := labels(at, d, unit)
	c.level(s, y, at, text, nil)
	c.text("label", end, s.b, y+33, withUnit(name, symbol))
}

// level draws a level axis with its ticks; fits says whether a text may stand in a place, nil: anywhere.
func (c *canvas) level(s scale, y float64, at []float64, text []string, fits func(b box) bool) {
	c.line("axis", s.a, y, s.b, y)
	for i, v := range at {
		x := s.at(v)
		c.line("axis", x, y, x, y+4)
		if fits == nil || fits(textBox(middle, x, y+17, text[i])) {
			c.text("tick", middle, x, y+17, text[i])
		}
	}
}

// axisPlain draws a level axis of plain numbers.
func (c *canvas) axisPlain(s scale, y float64, n int, name string) {
	at, d := ticks(s.from, s.to, n)
	c.level(s, y, at, texts(at, func(v float64) string { return plain(v, d) }), nil)
	c.text("label", end, s.b, y+33, name)
}

// axisY draws ticks at the left of x.
func (c *canvas) axisY(s scale, x float64, n int, unit quantity.Unit) (symbol string) {
	at, d := ticks(s.from, s.to, n)
	text, symbol := labels(at, d, unit)
	c.line("axis", x, s.a, x, s.b)
	for i, v := range at {
		y := s.at(v)
		c.line("axis", x-4, y, x, y)
		c.text("tick", end, x-7, y+4.5, text[i])
	}
	return symbol
}

// withUnit is an axis's name as "time, ms".
func withUnit(name, symbol string) string {
	if symbol == "" {
		return name
	}
	return name + ", " + symbol
}

// padded widens a range by a share of itself; a range without width becomes one about its value.
func padded(lo, hi, share float64) (float64, float64) {
	if !(hi > lo) {
		d := math.Abs(lo) * 1e-6
		if d == 0 {
			d = 1
		}
		return lo - d, hi + d
	}
	d := share * (hi - lo)
	return lo - d, hi + d
}
