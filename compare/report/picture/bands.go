package picture

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
)

// Band is one quantity's row: where it is wanted, promised and found. A zero range is left out.
type Band struct {
	Name      string
	Unit      quantity.Unit
	Reference float64    // what deviations are counted from: the target, else the nominal
	Limits    [2]float64 // that pass
	Guard     float64    // guard band inside either limit
	Worst     [2]float64 // promised in the worst case of the parts' tolerances
	Likely    [2]float64 // promised with 95 %
	RSS       [2]float64 // promised by root-sum-square
	Nominal   float64    // promised; 0: left out
	Tick      string     // what Nominal is called; empty: nominal
	Ideal     float64    // by the first-order formula; 0: left out
	Measured  float64    // 0: left out
	Expanded  float64    // expanded uncertainty of Measured, k = 2
	Word      string     // beside the name, such as "fail"
}

func given(r [2]float64) bool { return r[1] > r[0] }

// Bands draws rows on one axis of relative deviation, which against names.
func Bands(id, title, caption, against string, rows []Band) Picture {
	const row, left, right = 58.0, 10.0, 370.0
	c := newCanvas(id, float64(len(rows))*row+44)
	lo, hi := 0.0, 0.0
	take := func(b *Band, v ...float64) {
		for _, x := range v {
			lo, hi = min(lo, x/b.Reference-1), max(hi, x/b.Reference-1)
		}
	}
	for i := range rows {
		b := &rows[i]
		for _, r := range [][2]float64{b.Limits, b.Worst, b.Likely, b.RSS} {
			if given(r) {
				take(b, r[:]...)
			}
		}
		for _, v := range []float64{b.Nominal, b.Ideal} {
			if v != 0 {
				take(b, v)
			}
		}
		if b.Measured != 0 {
			take(b, b.Measured-b.Expanded, b.Measured+b.Expanded)
		}
	}
	lo, hi = padded(lo, hi, 0.06)
	x := scale{lo, hi, left, right}
	bottom := c.height - 42
	c.line("faint", x.at(0), 20, x.at(0), bottom)
	var prose []string
	for i := range rows {
		b := &rows[i]
		y := float64(i)*row + 36
		at := func(v float64) float64 { return x.clamp(v/b.Reference - 1) }
		c.text("label strong halo", start, 0, y-20, shortened(b.Name, Width-measure(b.Word)-16))
		c.text("label halo", end, Width, y-20, b.Word)
		if given(b.Limits) {
			c.hatch("none", box{at(b.Limits[0]), y - 12, at(b.Limits[1]), y + 12})
			for k, v := range b.Limits {
				c.line("limit", at(v), y-13, at(v), y+13)
				if g := v + b.Guard*float64(1-2*k); b.Guard > 0 {
					c.line("guard", at(g), y-13, at(g), y+13)
				}
			}
		}
		if given(b.Worst) {
			c.line("thin", at(b.Worst[0]), y-6, at(b.Worst[1]), y-6)
			c.line("thin", at(b.Worst[0]), y-9, at(b.Worst[0]), y-3)
			c.line("thin", at(b.Worst[1]), y-9, at(b.Worst[1]), y-3)
		}
		if given(b.RSS) {
			c.rect("bar2", box{at(b.RSS[0]), y - 2.5, at(b.RSS[1]), y + 2.5})
		}
		if given(b.Likely) {
			c.rect("bar", box{at(b.Likely[0]), y + 5, at(b.Likely[1]), y + 10})
		}
		if b.Nominal != 0 {
			c.line("axis", at(b.Nominal), y-11, at(b.Nominal), y+11)
		}
		if b.Ideal != 0 {
			c.diamond(at(b.Ideal), y)
		}
		if b.Measured != 0 {
			c.line("measured", at(b.Measured-b.Expanded), y, at(b.Measured+b.Expanded), y)
			c.circle("found", point{at(b.Measured), y}, 5)
		}
		prose = append(prose, b.prose())
	}
	at, d := ticks(lo, hi, 5)
	s := quantity.ScaleOf(quantity.Number, 10*d, at...)
	c.level(x, bottom, at, texts(at, func(v float64) string { return signed(digits(s, v), v) }), nil)
	c.text("label", end, right, bottom+34, against+", %")
	return c.picture(title, caption, strings.Join(prose, " "))
}

// prose says a row in words.
func (b *Band) prose() string {
	f := func(v float64) string { return quantity.Format(v, b.Unit) }
	out := b.Name + ":"
	if b.Measured != 0 {
		out += fmt.Sprintf(" measured %s, k = 2;", quantity.PlusMinus(b.Measured, b.Expanded, b.Unit))
	}
	if b.Nominal != 0 {
		out += fmt.Sprintf(" %s %s;", cmp.Or(b.Tick, "nominal"), f(b.Nominal))
	}
	for _, r := range []struct {
		name   string
		range_ [2]float64
	}{{"limits", b.Limits}, {"worst case", b.Worst}, {"root-sum-square", b.RSS}, {"95 %", b.Likely}} {
		if given(r.range_) {
			out += fmt.Sprintf(" %s %s to %s;", r.name, f(r.range_[0]), f(r.range_[1]))
		}
	}
	return strings.TrimSuffix(out, ";") + "."
}

// Bar is one row of a bar chart.
type Bar struct {
	Name  string
	Value float64
	Total bool // the combination of the others, drawn apart
}

// Bars draws horizontal bars of one unit, each with its value.
func Bars(id, title, caption string, unit quantity.Unit, rows []Bar) Picture {
	const row = 34.0
	top := 0.0
	widest := 0.0
	for _, b := range rows {
		top = max(top, math.Abs(b.Value))
		widest = max(widest, measure(quantity.Format(quantity.Rounded(b.Value, 2), unit)))
	}
	c := newCanvas(id, float64(len(rows))*row+10)
	right := Width - widest - 10
	var prose []string
	for i, b := range rows {
		y := float64(i) * row
		class := "bar"
		if b.Total {
			y += 8
			c.line("faint", 0, y-2, Width, y-2)
			class = "bar2"
		}
		value := quantity.Format(quantity.Rounded(b.Value, 2), unit)
		c.text("label", start, 0, y+13, b.Name)
		w := 0.0
		if top > 0 {
			w = math.Abs(b.Value) / top * right
		}
		c.rect(class, box{0, y + 19, max(w, 0.8), y + 30})
		c.text("tick", start, max(w, 0.8)+7, y+29, value)
		prose = append(prose, fmt.Sprintf("%s: %s.", b.Name, value))
	}
	return c.picture(title, caption, strings.Join(prose, " "))
}
