package picture

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"offbeat/acquire/quantity"
)

// TrendPoint is a value at an instant, with the limits within which it lies with 95 %.
type TrendPoint struct {
	Time             float64 // s
	Value, Low, High float64
}

// TrendMark is an instant that the user marked.
type TrendMark struct {
	Number int
	Time   float64 // s
}

// TrendRun is how one quantity has run while it was heard.
type TrendRun struct {
	Name   string
	Now    string // its value now, in words
	Unit   quantity.Unit
	Points []TrendPoint
	Marks  []TrendMark
	Limits [2]float64 // tolerance; equal: none
}

const (
	trendHeight = 134.0
	trendPoints = 360 // drawn at most: one a unit of width
)

// Trend draws the run of a quantity against time, with its 95 % band and the user's marks. It needs two
// points, else it is empty.
func Trend(id string, r TrendRun) Picture {
	points := thinTrend(r.Points)
	if len(points) < 2 {
		return Picture{}
	}
	const left, right, top, bottom = 56.0, 372.0, 30.0, trendHeight - 40
	c := newCanvas(id, trendHeight)
	first, last := points[0], points[len(points)-1]
	x := scale{first.Time, last.Time, left + 4, right}
	lo, hi := trendRange(points)
	y := scale{lo, hi, bottom, top}
	c.trendBand(points, x, y)
	for _, l := range r.Limits {
		if r.Limits[0] != r.Limits[1] && l > lo && l < hi {
			c.line("limit", left, y.at(l), right, y.at(l))
		}
	}
	symbol := c.axisY(y, left, 3, r.Unit)
	c.text("label strong", start, 0, 13, withUnit(r.Name, symbol))
	c.text("label", end, right, 13, r.Now)
	c.trendMarks(r.Marks, x, top, bottom)
	line := make([]point, len(points))
	for i, q := range points {
		line[i] = point{x.at(q.Time), y.at(q.Value)}
	}
	c.path("signal", line)
	c.axisTime(x, bottom)
	name := quantity.ScaleOf(r.Unit, (hi-lo)/100, first.Value, last.Value)
	prose := fmt.Sprintf("%s over %s: from %s to %s, %s.", r.Name, plainTime(last.Time-first.Time), name.Format(first.Value), name.Format(last.Value), quantity.Plural(len(r.Marks), "mark"))
	caption := "The value, its 95 % band, and the numbered marks."
	return c.picture(r.Name, caption, prose)
}

// thinTrend takes as many points as can be told apart, the last one always among them.
func thinTrend(p []TrendPoint) []TrendPoint {
	step := (len(p) + trendPoints - 1) / trendPoints
	if step <= 1 {
		return p
	}
	var out []TrendPoint
	for i := (len(p) - 1) % step; i < len(p); i += step {
		out = append(out, p[i])
	}
	return out
}

// trendRange shows the whole run, and of the band at most as much again on either side: where a wide band
// would flatten the run, its edges lie outside.
func trendRange(points []TrendPoint) (lo, hi float64) {
	half := make([]float64, len(points))
	lo, hi = math.Inf(1), math.Inf(-1)
	for i, p := range points {
		lo, hi = min(lo, p.Value), max(hi, p.Value)
		half[i] = (p.High - p.Low) / 2
	}
	slices.Sort(half)
	pad := half[len(half)/2]
	if hi-lo > pad/100 {
		pad = min(pad, hi-lo)
	}
	if pad > 0 {
		return lo - 1.1*pad, hi + 1.1*pad
	}
	return padded(lo, hi, 0.1)
}

func (c *canvas) trendBand(points []TrendPoint, x, y scale) {
	var edge []point
	for _, p := range points {
		edge = append(edge, point{x.at(p.Time), y.clamp(p.High)})
	}
	for _, p := range slices.Backward(points) {
		edge = append(edge, point{x.at(p.Time), y.clamp(p.Low)})
	}
	c.area("spread", edge)
}

// trendMarks draws the marks; their numbers keep clear of each other.
func (c *canvas) trendMarks(marks []TrendMark, x scale, top, bottom float64) {
	for _, m := range slices.Backward(marks) { // where there is no room for all numbers, the newest have theirs
		at := x.at(m.Time)
		if m.Time < x.from || m.Time > x.to {
			continue
		}
		c.line("reference", at, top-4, at, bottom)
		number := strconv.Itoa(m.Number)
		if b := textBox(middle, at, top-6, number); c.free(b) {
			c.text("tick accent strong", middle, at, top-6, number)
		}
	}
}

// timeUnits of a time axis: the longest span that each is used for, in s.
var timeUnits = []struct {
	upTo, unit float64
	name       string
}{{180, 1, "s"}, {3 * 3600, 60, "min"}, {math.Inf(1), 3600, "h"}}

// axisTime draws a horizontal axis of time in seconds, minutes or hours.
func (c *canvas) axisTime(s scale, y float64) {
	u := timeUnits[0]
	for _, u = range timeUnits {
		if s.to-s.from <= u.upTo {
			break
		}
	}
	c.axisPlain(scale{s.from / u.unit, s.to / u.unit, s.a, s.b}, y, 5, "time, "+u.name)
}

// plainTime writes a length of time in the unit of its axis.
func plainTime(t float64) string {
	for _, u := range timeUnits {
		if t <= u.upTo {
			return fmt.Sprintf("%.3g %s", t/u.unit, u.name)
		}
	}
	return ""
}
