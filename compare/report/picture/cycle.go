package picture

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit"
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
