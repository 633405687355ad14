package picture

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare/plane"
	"offbeat/fit"
	"offbeat/fit/latch"
)

const (
	foldCycles = 32   // how many cycles are laid over each other
	foldBins   = 160  // across the picture
	foldBefore = 0.12 // of a period, shown before the rising edge
	foldAfter  = 1.12 // of a period, shown after it
)

// fold is a cycle laid over others of its kind: each column's mean time, and mean, least and largest value over all of them.
type fold struct {
	columns []column // t in s after the rising edge
	cycles  int
}

// foldOf lays the first cycles of one channel over each other, each from its own rising edge.
func foldOf(t *Trace, m *fit.Measurement, channel int) fold {
	period := m.High.Value + m.Low.Value
	s := &m.Series
	if len(s.Start) == 0 || !(period > 0) {
		return fold{}
	}
	n := 0 // of a long record the kept cycles lie far apart: what reaches too far is seen too coarsely
	for n < min(len(s.Start), foldCycles) && s.Start[n]-s.Start[0] < foldCycles*period {
		n++
	}
	last := s.Start[n-1] + foldAfter*period
	rows := t.window(channel, s.Start[0]-foldBefore*period, last)
	from, width := -foldBefore*period, (foldBefore+foldAfter)*period/foldBins
	bins, times := make([]bin, foldBins), make([]float64, foldBins)
	for i := range bins {
		bins[i] = empty
	}
	f := fold{}
	k := 0
	for _, at := range s.Start[:n] {
		for k > 0 && rows[k].t > at+from {
			k--
		}
		used := false
		for ; k < len(rows) && rows[k].t < at+foldAfter*period; k++ {
			i := int(math.Floor((rows[k].t - at - from) / width))
			if i < 0 || i >= foldBins || math.IsNaN(rows[k].mean) || math.IsInf(rows[k].mean, 0) {
				continue
			}
			bins[i].merge(bin{rows[k].min, rows[k].max, rows[k].mean, 1})
			times[i] += rows[k].t - at
			used = true
		}
		k = min(k, len(rows)-1)
		if used {
			f.cycles++
		}
	}
	for i, b := range bins {
		if b.n > 0 {
			f.columns = append(f.columns, column{times[i] / float64(b.n), b.min, b.max, b.sum / float64(b.n)})
		}
	}
	return f
}

// Cycle draws one averaged cycle with its times as dimensions. It needs the samples of a level: a list of
// states has no shape between its edges, and then it is empty.
func Cycle(id string, t *Trace, m *fit.Measurement) Picture {
	period := m.High.Value + m.Low.Value
	if t.Kind != acquire.Samples || m.Low.Count == 0 {
		return Picture{}
	}
	f := foldOf(t, m, 0)
	if len(f.columns) < 20 {
		return Picture{}
	}
	const left, right, top, bottom = 8, 372, 14, 132
	write := func(e fit.Estimate, name string) string {
		return name + quantity.Uncertain(e.Value, e.Uncertainty, quantity.Second)
	}
	x := scale{-foldBefore * period, foldAfter * period, left, right}
	high, whole := m.High.Value, period
	h, l := write(m.WithClock(m.High), "high "), write(m.WithClock(m.Low), "low ")
	apart := 0.0 // one dimension below the other where their texts would meet
	if measure(h) > x.at(high)-x.at(0)+8 || measure(l) > x.at(whole)-x.at(high)+8 {
		apart = 26
	}
	c := newCanvas(id, bottom+68+apart)
	lo, hi := m.Levels.Low, m.Levels.High
	for _, q := range f.columns {
		lo, hi = min(lo, q.min), max(hi, q.max)
	}
	lo, hi = padded(lo, hi, 0.04)
	y := scale{lo, hi, bottom, top}
	var upper, lower, mean []point
	for _, q := range f.columns {
		upper = append(upper, point{x.at(q.t), y.at(q.max)})
		lower = append(lower, point{x.at(q.t), y.at(q.min)})
		mean = append(mean, point{x.at(q.t), y.at(q.mean)})
	}
	for i := len(lower) - 1; i >= 0; i-- {
		upper = append(upper, lower[i])
	}
	c.area("spread", upper)
	c.line("reference", left, y.at(m.Levels.Reference), right, y.at(m.Levels.Reference))
	if len(t.Channels) > 1 {
		var second []point
		for _, q := range foldOf(t, m, 1).columns {
			second = append(second, point{x.at(q.t), y.at(min(max(q.mean, lo), hi))})
		}
		c.path("second", second)
	}
	c.path("signal", mean)
	for _, at := range []float64{0, high, whole} {
		c.line("faint", x.at(at), y.at(m.Levels.Reference), x.at(at), bottom+58+apart)
	}
	c.dimension(x.at(0), x.at(high), bottom+26, h)
	c.dimension(x.at(high), x.at(whole), bottom+26+apart, l)
	c.dimension(x.at(0), x.at(whole), bottom+52+apart, write(m.Period(), "period "))
	caption := fmt.Sprintf("%s laid over each other at their rising edges: the line is their mean, the shaded band reaches from the least to the largest. A band that opens towards the falling edge is jitter; a rounded or stepped edge makes the reference level matter.", quantity.Plural(f.cycles, "cycle"))
	if len(t.Channels) > 1 {
		caption += " The capacitor's own voltage is dotted."
	}
	prose := fmt.Sprintf("Mean of %s over one period of %s: high for %s, then low for %s.", quantity.Plural(f.cycles, "cycle"), seconds(period), seconds(m.High.Value), seconds(m.Low.Value))
	return c.picture("One averaged cycle", caption, prose)
}

// marked is how many faults of a latch get a number.
const marked = 9

// Latch draws what a bistable's inputs and its output did, with its faults marked; empty where nothing is known
// of it.
func Latch(id string, r *latch.Result) Picture {
	if len(r.States) < 2 {
		return Picture{}
	}
	lanes := []struct {
		name string
		on   func(s latch.State) bool
	}{
		{"set", func(s latch.State) bool { return s.Set }},
		{"reset", func(s latch.State) bool { return s.Reset }},
		{"output", func(s latch.State) bool { return s.Out }},
	}
	const lane, left, right, top = 40.0, 52.0, 372.0, 24.0
	c := newCanvas(id, top+float64(len(lanes))*lane+42)
	x := scale{r.States[0].Time, r.States[len(r.States)-1].Time, left, right}
	for k, l := range lanes {
		y := scale{0, 1, top + float64(k+1)*lane - 6, top + float64(k)*lane + 8}
		c.text("label", end, left-8, y.a-7, l.name)
		c.line("faint", left, y.a, right, y.a)
		c.path("signal", steps(r.States, l.on, x, y))
	}
	for i, e := range r.Events[:min(len(r.Events), marked)] {
		at := x.at(e.Time)
		c.line("reference", at, top, at, top+float64(len(lanes))*lane)
		if number := fmt.Sprint(i + 1); c.free(textBox(middle, at, top-6, number)) {
			c.text("label accent", middle, at, top-6, number)
		}
	}
	c.axisX(x, c.height-38, 5, quantity.Second, "time")
	prose := fmt.Sprintf("A latch's inputs and output over %s: %s and %s changed the output.", seconds(x.to-x.from), quantity.Plural(r.Sets, "set"), quantity.Plural(r.Resets, "reset"))
	for _, e := range r.Events[:min(len(r.Events), marked)] {
		prose += fmt.Sprintf(" At %s: %s.", seconds(e.Time), e.What)
	}
	caption := "Inputs and output over time; up is active, and high. The output should rise with set, fall with reset, and else hold."
	if len(r.Events) > 0 {
		caption += " Dashed: the faults, numbered in order."
	}
	return c.picture("Inputs and output", caption, prose)
}

// steps is one line's path.
func steps(states []latch.State, on func(latch.State) bool, x, y scale) []point {
	level := map[bool]float64{false: y.at(0), true: y.at(1)}
	was := on(states[0])
	out := []point{{x.at(states[0].Time), level[was]}}
	for _, s := range states[1:] {
		if now := on(s); now != was {
			at := x.at(s.Time)
			out = append(out, point{at, level[was]}, point{at, level[now]})
			was = now
		}
	}
	return append(thinOut(out), point{x.b, level[was]})
}

// Fits draws how far each cause's prediction of every measured time lies from it, in standard uncertainties of the measurement;
// names are those of the times; alone says that they are predicted from the first capture. It needs a cause and a time, else it is empty.
func Fits(id string, names []string, fits []plane.Fit, alone bool) Picture {
	if len(names) == 0 || len(fits) == 0 {
		return Picture{}
	}
	const left, right, head, line, key, reach = 14.0, 366.0, 20.0, 11.0, 20.0, 6.0
	row := head + line*float64(len(fits)) + 4
	c := newCanvas(id, row*float64(len(names))+44+key*float64(len(fits)))
	bottom := row * float64(len(names))
	x := scale{-reach, reach, left, right}
	c.hatch("none", box{x.at(-2), 0, x.at(2), bottom})
	c.line("centre", x.at(0), 0, x.at(0), bottom)
	prose := make([]string, len(fits))
	for i, name := range names {
		top := row * float64(i)
		c.line("faint", left, top, right, top)
		c.text("label halo", start, 0, top+14, shortened(name, Width))
		for k, f := range fits {
			m, y := f.Misses[i], top+head+line*(float64(k)+0.5)
			c.line(numberClass(f.Number), x.clamp(m.Low), y, x.clamp(m.High), y)
			switch {
			case m.Median < -reach:
				c.arrow(point{left - 100, y}, box{left - 8, y - 5, left + 8, y + 5})
			case m.Median > reach:
				c.arrow(point{right + 100, y}, box{right - 8, y - 5, right + 8, y + 5})
			default:
				c.circle("mark", point{x.at(m.Median), y}, 3)
			}
			prose[k] += ", " + name + " " + quantity.Minus(fmt.Sprintf("%.1f", m.Median))
		}
	}
	c.axisPlain(x, bottom, 6, "predicted less measured, standard uncertainties")
	for k, f := range fits {
		y := bottom + 40 + key*float64(k)
		if f.Number > 0 {
			c.disc(f.Number, 9, y+9.5)
		}
		c.line(numberClass(f.Number), 21, y+9, 49, y+9)
		c.text("label", start, 54, y+14, shortened(f.Name, Width-54-50))
		c.text("tick", end, Width, y+14, quantity.Probability(f.Probability))
		prose[k] = f.Name + ":" + strings.TrimPrefix(prose[k], ",")
	}
	caption := "Each line is where a cause, with the parts that it needs, puts that time: 95 % of its boards, the dot their median, in the order below. Hatched: within two standard uncertainties of the measured time. A cause that stays in the hatching for every capture explains them all."
	if alone {
		caption = "No listed cause can make all captures. Each line is where a cause that made the first one puts that time: 95 % of its boards, the dot their median, in the order below, the probabilities by the first capture. Hatched: within two standard uncertainties of the measured time; an arrow lies farther. What every cause misses is the capture, or the reading or part it was taken with, to look at again."
	}
	return c.picture("How well each cause predicts the captures", caption, "Predicted less measured, in standard uncertainties. "+strings.Join(prose, "; ")+".")
}
