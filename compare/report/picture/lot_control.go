package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
)

// Control is a control chart.
type Control struct {
	Unit      quantity.Unit
	Points    []float64
	Low, High []float64 // limits, one a point
	Centre    float64
	Labels    []string   // of the points
	Signals   []int      // indexes of points at which a rule fired
	Target    [2]float64 // limits of the target, drawn where they lie in the picture; equal: none
}

// ControlChart draws points in order with centre and limits; points at which a rule fired are ringed.
func ControlChart(id, title, caption string, k Control) Picture {
	const left, right, top, bottom = 58.0, 312.0, 32.0, 172.0
	c := newCanvas(id, 196)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, v := range k.Points {
		lo, hi = min(lo, v, k.Low[i]), max(hi, v, k.High[i])
	}
	lo, hi = padded(lo, hi, 0.05)
	x, y := scale{0, float64(max(len(k.Points)-1, 1)), left + 6, right - 4}, scale{lo, hi, bottom, top}
	for _, l := range k.Target {
		if k.Target[0] != k.Target[1] && l > lo && l < hi {
			c.line("level", left, y.at(l), right, y.at(l))
		}
	}
	c.line("centre", left, y.at(k.Centre), right, y.at(k.Centre))
	var line, low, high, dots []point
	for i, v := range k.Points {
		low, high = append(low, point{x.at(float64(i)), y.at(k.Low[i])}), append(high, point{x.at(float64(i)), y.at(k.High[i])})
		line = append(line, point{x.at(float64(i)), y.at(v)})
	}
	if len(line) <= 200 {
		dots = line
	}
	c.path("limit", thinOut(low))
	c.path("limit", thinOut(high))
	c.path("signal", thinOut(line))
	c.dots("dots", dots)
	c.levels(k, y, right+5)
	far := slices.SortedStableFunc(slices.Values(k.Signals), func(a, b int) int { // the farthest are named
		return -cmp.Compare(math.Abs(k.Points[a]-k.Centre), math.Abs(k.Points[b]-k.Centre))
	})
	for n, i := range far {
		q := point{x.at(float64(i)), y.at(k.Points[i])}
		if n < 60 {
			c.circle("ring", q, 5)
		}
		if n < 3 {
			c.place(q, shortened(k.Labels[i], 110), "tick halo")
		}
	}
	symbol := c.axisY(y, left, 4, k.Unit)
	c.line("axis", left, bottom+4, right, bottom+4)
	c.text("tick", start, left, bottom+20, k.Labels[0])
	c.text("tick", end, right, bottom+20, k.Labels[len(k.Labels)-1])
	c.text("label", start, 0, 13, withUnit(title, symbol))
	prose := fmt.Sprintf("%d points between %s and %s; centre %s; %d signals.", len(k.Points), quantity.Format(slices.Min(k.Points), k.Unit), quantity.Format(slices.Max(k.Points), k.Unit), quantity.Format(k.Centre, k.Unit), len(k.Signals))
	return c.picture(title, caption, prose)
}

// levels writes the last limits and the centre beside their lines, with the digits that tell them apart.
func (c *canvas) levels(k Control, y scale, at float64) {
	n := len(k.Points) - 1
	s := quantity.ScaleOf(k.Unit, (k.High[n]-k.Low[n])/5, k.Low[n], k.Centre, k.High[n])
	for _, v := range []float64{k.High[n], k.Low[n], k.Centre} {
		if text := quantity.Minus(s.Digits(v)); c.free(textBox(start, at, y.at(v)+4.5, text)) {
			c.text("tick", start, at, y.at(v)+4.5, text)
		}
	}
}
