package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/stability"
)

// Course draws the period in blocks of cycles with the line of its drift, or with the steps where it changes inside; drift
// says the line's slope in words. It needs two blocks, else it is empty.
func Course(id string, s *compare.Stability, drift string) Picture {
	k := s.Course
	if k == nil || len(k.Blocks) < 2 {
		return Picture{}
	}
	const left, right, top, bottom = 60.0, 372.0, 28.0, 160.0
	c := newCanvas(id, 198)
	relative := func(period float64) float64 { return period/k.Period - 1 }
	from, to, lo, hi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	most := 0
	for _, b := range k.Blocks {
		y, u := relative(b.Period.Value), 2*b.Period.Uncertainty/k.Period
		from, to, lo, hi = min(from, b.At), max(to, b.At), min(lo, y-u), max(hi, y+u)
		most = max(most, b.Period.Count)
	}
	lo, hi = padded(lo, hi, 0.05)
	from, to = padded(from, to, 0.03)
	x, y := scale{from, to, left + 4, right}, scale{lo, hi, bottom, top}
	caption := "Dots: the mean period of each stretch of cycles, against the mean of all, with the 95 % coverage interval that the noise leaves it; each is taken from edge to edge, so that times in whole sample intervals hide no drift. "
	switch {
	case len(s.Changes) > 0:
		c.steps(s.Changes, k.Period, x, y)
		caption += "The level line is the period before and after each change, dashed across."
	case s.Drift.Seen:
		c.drift("measured", s, x, y)
		caption += "The line is the fitted drift, " + drift + "."
	default:
		c.drift("level", s, x, y)
		caption += "The dashed line is the best drift, " + drift + "."
	}
	var dots []point
	for _, b := range k.Blocks {
		q, u := point{x.at(b.At), y.at(relative(b.Period.Value))}, 2*b.Period.Uncertainty/k.Period*(y.a-y.b)/(y.to-y.from)
		c.line("thin", q.x, q.y-u, q.x, q.y+u)
		dots = append(dots, q)
	}
	for _, q := range dots {
		c.circle("mark", q, 2.6)
	}
	c.text("label", start, 0, 13, withUnit("period against its mean", c.axisY(y, left, 4, quantity.Number)))
	title := "The period over the record"
	if s.Drift.Against == "temperature" && len(s.Changes) == 0 {
		title = "The period against the temperature"
		c.axisPlain(x, bottom, 5, "temperature, °C")
	} else {
		c.axisTime(x, bottom)
	}
	first, last := k.Blocks[0], k.Blocks[len(k.Blocks)-1]
	prose := fmt.Sprintf("%d blocks of up to %s: from %s in the first to %s in the last of the mean period of %s.", len(k.Blocks), quantity.Plural(most, "cycle"),
		ratioProse(math.Log1p(relative(first.Period.Value))), ratioProse(math.Log1p(relative(last.Period.Value))), seconds(k.Period))
	return c.picture(title, caption, prose)
}

// drift draws the fitted line, cut where it leaves the frame.
func (c *canvas) drift(class string, s *compare.Stability, x, y scale) {
	from, to := x.from, x.to
	if v := s.Drift.Value; v != 0 {
		a, b := s.Course.Middle+y.from/v, s.Course.Middle+y.to/v
		from, to = max(from, min(a, b)), min(to, max(a, b))
	}
	at := func(q float64) float64 { return y.at(s.Drift.Value * (q - s.Course.Middle)) }
	if from < to {
		c.line(class, x.at(from), at(from), x.at(to), at(to))
	}
}

// steps draws the level before and after each change.
func (c *canvas) steps(changes []fit.Change, mean float64, x, y scale) {
	from := x.from
	for i, s := range changes {
		to, last := s.Time, i == len(changes)-1
		c.line("measured", x.clamp(from), y.clamp(s.Before/mean-1), x.clamp(to), y.clamp(s.Before/mean-1))
		c.line("reference", x.clamp(to), y.a, x.clamp(to), y.b)
		if from = to; last {
			c.line("measured", x.clamp(from), y.clamp(s.After/mean-1), x.b, y.clamp(s.After/mean-1))
		}
	}
}

// laws are what the noise of each power of the averaging time is called.
var laws = map[float64]string{-1: "white edge noise", -0.5: "random-walk period noise", 0: "flicker", 0.5: "wandering period", 1: "drift"}

// Allan draws the Allan deviation of the period against the averaging time, both logarithmic, with the kinds of noise that its
// shape shows. It needs two points, else it is empty.
func Allan(id string, s *compare.Stability) Picture {
	seen := slices.DeleteFunc(slices.Clone(s.Allan), func(a compare.AllanPoint) bool { return !(a.Value > 0) })
	if len(seen) < 2 || s.Course == nil {
		return Picture{}
	}
	found := s.Course.Laws
	const left, right, top, bottom, row, reach = 60.0, 372.0, 28.0, 180.0, 18.0, 5.0
	c := newCanvas(id, bottom+40+row*float64(len(found)))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, a := range seen { // a bar of few differences is long: it may leave the frame
		lo, hi = min(lo, max(a.Interval[0], a.Value/reach)), max(hi, min(a.Interval[1], a.Value*reach))
	}
	lo, hi = padded(math.Log(lo), math.Log(hi), 0.06)
	from, to := padded(math.Log(seen[0].Time), math.Log(seen[len(seen)-1].Time), 0.06)
	x, y := scale{from, to, left, right}, scale{lo, hi, bottom, top}
	c.axisLog(x, bottom, false, seconds, "averaging time")
	c.axisLog(y, left, true, quantity.Relative, "")
	c.text("label", start, 0, 13, "Allan deviation of the period")
	curve := func(class string, of ...stability.Law) {
		const steps = 100
		line := make([]point, steps+1)
		for i := range line {
			t, v := x.from+(x.to-x.from)*float64(i)/steps, 0.0
			for _, l := range of {
				v += math.Pow(l.Deviation*math.Exp(l.Power*t), 2)
			}
			if v = math.Log(v) / 2; v < y.from || v > y.to {
				v = math.NaN()
			}
			line[i] = point{x.at(t), y.at(v)}
		}
		c.path(class, line)
	}
	var names []string
	for k, l := range found {
		class, at := fmt.Sprintf("c%d", k+1), bottom+46+row*float64(k)
		name := laws[l.Power]
		if s.Rounding != nil && l.Power == -1 && s.EdgeNoise.Value < *s.Rounding/2 {
			name = "edges rounded to the sample interval"
		}
		curve(class, l)
		c.line(class, 0, at, 30, at)
		c.text("label", start, 38, at+4.5, name)
		names = append(names, name)
	}
	if len(found) > 1 {
		curve("measured", found...)
	}
	var said []string
	for _, a := range seen {
		q := point{x.at(math.Log(a.Time)), y.at(math.Log(a.Value))}
		c.line("thin", q.x, y.clamp(math.Log(a.Interval[0])), q.x, y.clamp(math.Log(a.Interval[1])))
		c.circle("found", q, 4)
		said = append(said, fmt.Sprintf("%s at %s", quantity.Relative(a.Value), seconds(a.Time)))
	}
	caption := "Dots: by how much the means over neighbouring stretches of that length differ, with the 95 % coverage interval. Lines: the fewest kinds of noise that make this shape"
	if len(found) > 1 {
		caption += ", the solid one all of them together"
	}
	if caption += "."; len(s.Changes) > 0 {
		caption += " The change of the period is among them: it looks like a wandering period or a drift."
	}
	return c.picture("The noise of the period", caption, "Allan deviation of the period: "+strings.Join(said, ", ")+". Its shape: "+strings.Join(names, " and ")+".")
}

// axisLog draws an axis of logarithms, upright at the left or level, with a tick a decade, or at 1, 2 and 5 where it shows few.
func (c *canvas) axisLog(s scale, at float64, upright bool, write func(float64) string, name string) {
	line := func(a, b float64) {
		if upright {
			c.line("axis", at-b, a, at, a)
			return
		}
		c.line("axis", a, at, a, at+b)
	}
	if upright {
		c.line("axis", at, s.a, at, s.b)
	} else {
		c.line("axis", s.a, at, s.b, at)
		c.text("label", end, s.b, at+33, name)
	}
	few := s.to-s.from < 2*math.Ln10
	for k := math.Floor(s.from / math.Ln10); k*math.Ln10 <= s.to; k++ {
		for _, m := range []float64{1, 2, 5} {
			v := math.Log(m) + k*math.Ln10
			if v < s.from || v > s.to {
				continue
			}
			q, text := s.at(v), write(m*math.Pow(10, k))
			line(q, 4)
			switch {
			case m > 1 && !few:
			case upright:
				c.text("tick", end, at-7, q+4.5, text)
			case c.free(textBox(middle, q, at+17, text)):
				c.text("tick", middle, q, at+17, text)
			}
		}
	}
}
