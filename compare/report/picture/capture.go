package picture

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// captureCycles is how many cycles a picture of a capture shows at most.
const captureCycles = 6

// edge is a transition that the fit found.
type edge struct {
	t  float64
	up bool
}

// edges are the edges of the kept cycles between two times.
func edges(s *fit.Series, from, to float64) []edge {
	var out []edge
	add := func(t float64, up bool) {
		if t >= from && t <= to && (len(out) == 0 || t > out[len(out)-1].t) {
			out = append(out, edge{t, up})
		}
	}
	for i, t := range s.Start {
		if t > to {
			break
		}
		add(t, true)
		add(t+s.High[i], false)
		if i < len(s.Low) && s.Low[i] > 0 {
			add(t+s.High[i]+s.Low[i], true)
		}
	}
	return out
}

// shown is the stretch of a capture that its picture shows, in s: all of a short one, else the first cycles.
func shown(t *Trace, m *fit.Measurement) (from, to float64, all bool) {
	from, to = t.Start, t.end()
	if t.timed && len(t.levels) > 0 && len(t.levels[0].time) > 0 {
		from = t.levels[0].time[0]
	}
	period := m.High.Value + m.Low.Value
	if n := len(m.Series.Start); n > captureCycles && period > 0 {
		first := m.Series.Start[0]
		return max(from, first-0.6*period), min(to, first+(captureCycles+0.6)*period), false
	}
	return from, to, true
}

// volts writes a level to a hundredth of the swing; a state has none.
func volts(t *Trace, m *fit.Measurement, v float64) string {
	if t.Kind != acquire.Samples {
		return ""
	}
	l := &m.Levels
	unit, known := LevelUnit(l)
	if !known {
		return ""
	}
	s := quantity.ScaleOf(unit, l.Amplitude()/20, l.High, l.Low)
	return " " + digits(s, v) + " " + s.Unit
}

// LevelUnit is the unit that levels are printed in; known is false for counts and for a unit of the file's own.
func LevelUnit(l *fit.Levels) (unit quantity.Unit, known bool) {
	if l.Unit == "A" {
		return quantity.Ampere, true
	}
	return quantity.Volt, l.Unit == "" || l.Unit == "V"
}

// Capture draws the record, or its beginning, with the state levels, the reference level and the edges found.
func Capture(id string, t *Trace, m *fit.Measurement) Picture {
	from, to, all := shown(t, m)
	const left, right, top, bottom = 8, 300, 14, 158
	c := newCanvas(id, 200)
	low, high := m.Levels.Low, m.Levels.High
	columns := t.window(0, from, to)
	for _, q := range columns {
		if !math.IsInf(q.min, 0) && !math.IsInf(q.max, 0) && q.min == q.min {
			low, high = min(low, q.min), max(high, q.max)
		}
	}
	low, high = padded(low, high, 0.06)
	x, y := scale{from, to, left, right}, scale{low, high, bottom, top}
	for _, l := range []struct {
		class, name string
		v           float64
	}{{"level", "high", m.Levels.High}, {"reference", "ref.", m.Levels.Reference}, {"level", "low", m.Levels.Low}} {
		c.line(l.class, left, y.at(l.v), right, y.at(l.v))
		c.text("tick", start, right+6, y.at(l.v)+4.5, l.name+volts(t, m, l.v))
	}
	if len(t.Channels) > 1 {
		c.path("second", polyline(t.window(1, from, to), x, y, t.Kind))
	}
	c.path("signal", polyline(columns, x, y, t.Kind))
	found := edges(&m.Series, from, to)
	at := y.at(m.Levels.Reference)
	for _, e := range found {
		d := 5.0
		if !e.up {
			d = -d
		}
		p := x.at(e.t)
		c.area("found", []point{{p, at - d}, {p - 4.5, at + d*0.7}, {p + 4.5, at + d*0.7}})
	}
	c.axisX(x, bottom+4, 5, quantity.Second, "time")
	title := "The capture"
	part := "the whole record"
	if !all {
		part = fmt.Sprintf("the first %d of %d whole cycles", captureCycles, m.Cycles)
	}
	of, lack := "", ", and no edge should lack one"
	if m.Series.Every > 1 { // of a long record not every cycle's times are kept
		of, lack = fmt.Sprintf(" of one cycle in %d", m.Series.Every), ""
	}
	caption := fmt.Sprintf("%s, %s. Triangles mark the edges found%s where the signal crosses the reference level (long dashes); the state levels are short-dashed. Each triangle should sit on an edge%s.", t.Source, part, of, lack)
	if len(t.Channels) > 1 {
		caption += " The capacitor's own voltage is dotted."
	}
	prose := fmt.Sprintf("Signal against time from %s to %s: low level%s, high level%s, reference%s, %d edges marked.",
		seconds(from), seconds(to), levelProse(t, m, m.Levels.Low), levelProse(t, m, m.Levels.High), levelProse(t, m, m.Levels.Reference), len(found))
	return c.picture(title, caption, prose)
}

func levelProse(t *Trace, m *fit.Measurement, v float64) string {
	if s := volts(t, m, v); s != "" {
		return s
	}
	return fmt.Sprintf(" %.3g", v)
}

func seconds(v float64) string { return quantity.Minus(quantity.Format(v, quantity.Second)) }

// polyline runs through columns, each from its least to its largest value or back, whichever is nearer. A
// state holds until the next row, and a level clipped at a rail is drawn at the picture's edge.
func polyline(columns []column, x, y scale, kind acquire.Kind) []point {
	var out []point
	clip := func(v float64) float64 { return min(max(v, y.from), y.to) }
	last := math.NaN()
	for _, q := range columns {
		if math.IsNaN(q.min) {
			out = append(out, point{math.NaN(), 0})
			last = math.NaN()
			continue
		}
		at := x.clamp(q.t)
		first, second := clip(q.min), clip(q.max)
		if math.Abs(last-second) < math.Abs(last-first) {
			first, second = second, first
		}
		if kind != acquire.Samples && last == last {
			out = append(out, point{at, y.at(last)})
		}
		out = append(out, point{at, y.at(first)})
		if second != first {
			out = append(out, point{at, y.at(second)})
		}
		last = second
	}
	if kind != acquire.Samples && last == last {
		out = append(out, point{x.b, y.at(last)})
	}
	return thinOut(out)
}

// thinOut merges points that fall within a quarter of a unit of the canvas, keeping the least and the largest
// of each such run, so that a long window stays a small file.
func thinOut(p []point) []point {
	if len(p) < 1200 {
		return p
	}
	var out []point
	for i := 0; i < len(p); {
		k := math.Floor(p[i].x * 4)
		j, lo, hi := i, i, i
		for ; j < len(p) && math.Floor(p[j].x*4) == k; j++ {
			if p[j].y < p[lo].y {
				lo = j
			}
			if p[j].y > p[hi].y {
				hi = j
			}
		}
		if j == i { // no number: a gap
			out = append(out, p[i])
			i++
			continue
		}
		for _, m := range []int{i, min(lo, hi), max(lo, hi), j - 1} {
			if n := len(out); n == 0 || out[n-1] != p[m] {
				out = append(out, p[m])
			}
		}
		i = j
	}
	return out
}
