package picture

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"offbeat/acquire/quantity"
	"offbeat/fit"
)

const timeBins = 15 // bars of the histogram beside the times by cycle

// Times draws each cycle's high and low time against the instant of the cycle, with a histogram of either. It
// needs two cycles, else it is empty.
func Times(id string, m *fit.Measurement) Picture {
	s := &m.Series
	if len(s.Start) < 2 {
		return Picture{}
	}
	rows := []struct {
		name string
		v    []float64
		fit.Estimate
	}{{"High time", s.High, m.High}, {"Low time", s.Low, m.Low}}
	if m.Low.Count == 0 {
		rows = rows[:1]
	}
	const panel, left, right, side = 106.0, 52.0, 308.0, 372.0
	c := newCanvas(id, float64(len(rows))*panel+42)
	x := scale{s.Start[0], s.Start[len(s.Start)-1], left + 4, right}
	prose := ""
	for k, r := range rows {
		n := min(len(r.v), len(s.Start))
		top := float64(k)*panel + 26
		bottom := top + panel - 42
		deviation := make([]float64, n)
		for i := range deviation {
			deviation[i] = r.v[i] - r.Value
		}
		// Never finer than the mean is known: below that a pattern means nothing.
		least := max(r.Uncertainty, 1e-9*r.Value)
		lo, hi := padded(min(slices.Min(deviation), -least), max(slices.Max(deviation), least), 0.05)
		y := scale{lo, hi, bottom, top}
		symbol := c.axisY(y, left, 3, quantity.Second)
		c.text("label strong", start, 0, top-11, r.name)
		c.text("label", end, side, top-11, fmt.Sprintf("deviation from %s, in %s", seconds(r.Value), symbol))
		c.line("centre", left, y.at(0), side, y.at(0))
		c.dots("dots", thinDots(s.Start[:n], deviation, x, y))
		c.histogram(deviation, y, right+8, side)
		sd := floats.Norm(deviation, 2) / math.Sqrt(float64(max(n-1, 1)))
		prose += fmt.Sprintf("%s: %s about a mean of %s with a standard deviation of %s, from %s to %s. ",
			r.name, quantity.Plural(n, "cycle"), seconds(r.Value), seconds(sd), seconds(slices.Min(r.v[:n])), seconds(slices.Max(r.v[:n])))
	}
	c.axisX(x, c.height-38, 5, quantity.Second, "time of the cycle")
	caption := "Every cycle's times against the instant it began, as deviation from the reported time (dash-dotted), and how often each value occurred. Level and structureless is a steady circuit; a slope is drift, rows of dots are the instrument's sample interval."
	if s.Every > 1 {
		caption += fmt.Sprintf(" One cycle in %d is drawn.", s.Every)
	}
	return c.picture("Times by cycle", caption, prose)
}

// thinDots places the dots; of many that fall together one is kept.
func thinDots(t, v []float64, x, y scale) []point {
	p := make([]point, len(t))
	for i := range t {
		p[i] = point{x.at(t[i]), y.at(v[i])}
	}
	return thinPoints(p)
}

// thinPoints keeps one of the dots that fall together.
func thinPoints(p []point) []point {
	seen := map[[2]int]bool{}
	var out []point
	for _, q := range p {
		cell := [2]int{int(math.Round(q.x * 1.5)), int(math.Round(q.y * 1.5))}
		if !seen[cell] {
			seen[cell] = true
			out = append(out, q)
		}
	}
	return out
}

// histogram draws bars along a vertical scale, between two places across.
func (c *canvas) histogram(v []float64, y scale, x0, x1 float64) {
	counts := make([]float64, timeBins)
	width := (y.to - y.from) / timeBins
	for _, a := range v {
		counts[min(max(int((a-y.from)/width), 0), timeBins-1)]++
	}
	top := slices.Max(counts)
	c.line("axis", x0, y.a, x0, y.b)
	for i, n := range counts {
		if n > 0 {
			c.rect("bar", box{x0, y.at(y.from+float64(i+1)*width) + 0.5, x0 + n/top*(x1-x0), y.at(y.from+float64(i)*width) - 0.5})
		}
	}
}
