// Package picture draws the pictures of a report as inline SVG: what to see is said by lines, hatching and
// labels before colour, and by a description for who cannot see it.
//
// All pictures share one width in user units, so that their text keeps one size in print, on a phone and on a
// desk. Colours, line styles and fonts are classes of CSS, which the page that holds a picture must include.
package picture

import (
	"cmp"
	_ "embed"
	"fmt"
	"html"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"offbeat/acquire/quantity"
)

// Width of every picture in user units, but of a schematic that needs more; one unit is a CSS pixel where the picture is shown at its own size.
const Width = 380

// Sizes of the text in user units, as in style.css.
const (
	textSize  = 13.0
	textWidth = 0.55 // mean advance of a character over the text's size, for the fonts that style.css asks for
)

// Style is the CSS of the classes that pictures use.
//
//go:embed style.css
var Style string

// Picture is one drawing with its words.
type Picture struct {
	Title   string // what it shows
	Caption string // what to see in it
	Prose   string // what it shows, for who cannot see it
	SVG     string // the inline element, Title and Prose inside
}

// point is a place on the canvas.
type point struct{ x, y float64 }

// box is a rectangle on the canvas.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) overlaps(c box) bool {
	return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1
}

func (b box) holds(p point) bool { return p.x >= b.x0 && p.x <= b.x1 && p.y >= b.y0 && p.y <= b.y1 }

// canvas collects the elements of one picture.
type canvas struct {
	id     string
	width  float64 // Width, or more for a schematic of many parts
	height float64
	b      strings.Builder
	texts  []box // where text stands, so that labels keep clear of each other
}

func newCanvas(id string, height float64) *canvas {
	return &canvas{id: id, width: Width, height: height}
}

// number writes a coordinate to a hundredth of a unit.
func number(x float64) string {
	return strconv.FormatFloat(math.Round(x*100)/100+0, 'f', -1, 64) // without the sign of a zero
}

func (c *canvas) line(class string, x0, y0, x1, y1 float64) {
	fmt.Fprintf(&c.b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, number(x0), number(y0), number(x1), number(y1))
}

func (c *canvas) rect(class string, b box) {
	fmt.Fprintf(&c.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, number(b.x0), number(b.y0), number(max(b.x1-b.x0, 0)), number(max(b.y1-b.y0, 0)))
}

func (c *canvas) circle(class string, p point, r float64) {
	fmt.Fprintf(&c.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, number(p.x), number(p.y), number(r))
}

// disc draws a number in a disc about a point.
func (c *canvas) disc(n int, x, y float64) {
	c.circle("open", point{x, y}, discRadius)
	c.text("tick strong", middle, x, y+4.5, strconv.Itoa(n))
}

const discRadius = 8.5

// diamond marks a value.
func (c *canvas) diamond(x, y float64) {
	c.area("open", []point{{x, y - 4}, {x + 4, y}, {x, y + 4}, {x - 4, y}})
}

// hatch fills a rectangle with the hatching of style.css, outline or none as the class has it.
func (c *canvas) hatch(class string, b box) {
	fmt.Fprintf(&c.b, `<rect class="%s" style="fill:url(#%s-hatch)" x="%s" y="%s" width="%s" height="%s"/>`, class, c.id, number(b.x0), number(b.y0), number(max(b.x1-b.x0, 0)), number(max(b.y1-b.y0, 0)))
}

// hatchArea does the same for a polygon.
func (c *canvas) hatchArea(class string, p []point) {
	fmt.Fprintf(&c.b, `<path class="%s" style="fill:url(#%s-hatch)" d="%sZ"/>`, class, c.id, pathData(p))
}

// pathData runs through the points and breaks where one is no number.
func pathData(p []point) string {
	var b strings.Builder
	pen := byte('M')
	for _, q := range p {
		if math.IsNaN(q.x) || math.IsNaN(q.y) {
			pen = 'M'
			continue
		}
		b.WriteByte(pen)
		b.WriteString(number(q.x) + " " + number(q.y))
		pen = 'L'
	}
	return b.String()
}

func (c *canvas) path(class string, p []point) {
	if len(p) > 1 {
		fmt.Fprintf(&c.b, `<path class="%s" d="%s"/>`, class, pathData(p))
	}
}

func (c *canvas) area(class string, p []point) {
	fmt.Fprintf(&c.b, `<path class="%s" d="%sZ"/>`, class, pathData(p))
}

// dots draws many small points as one element.
func (c *canvas) dots(class string, p []point) {
	var b strings.Builder
	for _, q := range p {
		fmt.Fprintf(&b, "M%s %sh0", number(q.x), number(q.y))
	}
	fmt.Fprintf(&c.b, `<path class="%s" d="%s"/>`, class, b.String())
}

// Where text stands with respect to its place.
const (
	start  = "start"
	middle = "middle"
	end    = "end"
)

// text writes s with its baseline at y.
func (c *canvas) text(class, anchor string, x, y float64, s string) {
	c.texts = append(c.texts, textBox(anchor, x, y, s))
	fmt.Fprintf(&c.b, `<text class="%s" text-anchor="%s" x="%s" y="%s">%s</text>`, class, anchor, number(x), number(y), html.EscapeString(s))
}

// textBox is about where a text will stand.
func textBox(anchor string, x, y float64, s string) box {
	w := measure(s)
	switch anchor {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	return box{x, y - 0.8*textSize, x + w, y + 0.25*textSize}
}

// measure is about how wide a text will be.
func measure(s string) float64 { return textWidth * textSize * float64(utf8.RuneCountInString(s)) }

// shortened cuts a text that is wider than the room there is; strong type is a little wider than measured.
func shortened(s string, room float64) string {
	r := []rune(s)
	for n := len(r); n > 1; n-- {
		if s := string(r[:n]); n == len(r) && 1.08*measure(s) <= room {
			return s
		} else if 1.08*measure(s+"…") <= room {
			return strings.TrimRight(s, " ,;:") + "…"
		}
	}
	return s
}

// free says whether a text there would keep clear of the others and of the canvas's edge.
func (c *canvas) free(b box) bool {
	return b.x0 >= 0 && b.x1 <= c.width && b.y0 >= 0 && b.y1 <= c.height && !slices.ContainsFunc(c.texts, b.overlaps)
}

// dimension draws a draughtsman's dimension between two places, its text in the middle or, where that does not
// fit, beside it.
func (c *canvas) dimension(x0, x1, y float64, s string) {
	const head = 5.0
	c.line("thin", x0, y-6, x0, y+6)
	c.line("thin", x1, y-6, x1, y+6)
	c.line("thin", x0, y, x1, y)
	if x1-x0 > 2.5*head {
		c.area("mark", []point{{x0, y}, {x0 + head, y - 2.2}, {x0 + head, y + 2.2}})
		c.area("mark", []point{{x1, y}, {x1 - head, y - 2.2}, {x1 - head, y + 2.2}})
	}
	x := (x0 + x1) / 2
	w := measure(s) / 2
	c.text("label", middle, min(max(x, w), Width-w), y-5, s)
}

// picture closes the canvas.
func (c *canvas) picture(title, caption, prose string) Picture {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="picture" role="img" aria-labelledby="%s-t" aria-describedby="%s-d" viewBox="0 0 %s %s" width="%s" height="%s">`, c.id, c.id, number(c.width), number(c.height), number(c.width), number(c.height))
	fmt.Fprintf(&b, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, c.id, html.EscapeString(title), c.id, html.EscapeString(prose))
	body := c.b.String()
	if strings.Contains(body, c.id+"-hatch") {
		fmt.Fprintf(&b, `<defs><pattern id="%s-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatching" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>`, c.id)
	}
	b.WriteString(body)
	b.WriteString("</svg>")
	return Picture{title, caption, prose, b.String()}
}

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
		d = cmp.Or(d, 1)
		return lo - d, hi + d
	}
	d := share * (hi - lo)
	return lo - d, hi + d
}
