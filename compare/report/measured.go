package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/fit"
)

// Measured writes what captures say by themselves; one measurement a capture, in the same order.
func Measured(w io.Writer, captures []compare.Capture, ms []*fit.Measurement, warnings []string, s Style) error {
	p := newPrinter(w, s)
	for i, c := range captures {
		if i > 0 {
			p.line("")
		}
		p.opening(SourceOf(c, captures)+": "+summary(c.Measured), "")
		p.measurement(c, ms[i])
	}
	p.captures(captures)
	p.notes(warnings)
	return p.w.Flush()
}

// Lines writes one line a capture: its frequency and duty factor, or its pulse.
func Lines(w io.Writer, captures []compare.Capture) error {
	p := newPrinter(w, Style{})
	for _, c := range captures {
		p.line("%s: %s%s", SourceOf(c, captures), summary(c.Measured), guessed(c))
	}
	return p.w.Flush()
}

// guessed tells of a guess that the times rest on: a single line leaves out all other notes.
func guessed(c compare.Capture) string {
	if c.Guess == "" {
		return ""
	}
	return " (" + c.Guess + ")"
}

// SourceOf names a capture; with its record where the source has several.
func SourceOf(c compare.Capture, all []compare.Capture) string {
	for _, o := range all {
		if o.Source == c.Source && o.Record != c.Record {
			return fmt.Sprintf("%s record %d", c.Source, c.Record)
		}
	}
	return c.Source
}

// summary is a pulse train in one line.
func summary(t *compare.Times[compare.Measured]) string {
	if t.Frequency == nil {
		return "high " + quantity.Uncertain(t.High.Value, t.High.Uncertainty, quantity.Second)
	}
	return fmt.Sprintf("%s, duty factor %s, high %s, low %s",
		quantity.Uncertain(t.Frequency.Value, t.Frequency.Uncertainty, quantity.Hertz),
		quantity.Uncertain(t.Duty.Value, t.Duty.Uncertainty, quantity.Number),
		quantity.Uncertain(t.High.Value, t.High.Uncertainty, quantity.Second),
		quantity.Uncertain(t.Low.Value, t.Low.Uncertainty, quantity.Second))
}

func (p *printer) measurement(c compare.Capture, m *fit.Measurement) {
	var rows [][]cell
	for i, q := range pick(c.Measured) {
		if q == nil {
			continue
		}
		t := timeRows[i]
		rows = append(rows, plain(t.name, quantity.PlusMinus(q.Value, q.Uncertainty, t.unit), relative(q.Uncertainty/q.Value), fmt.Sprint(q.Count)))
	}
	p.table([]column{{}, {head: "mean, standard uncertainty"}, {head: "relative", right: true}, {head: "count", right: true, drop: 1}}, rows)
	v := quantity.ScaleOf(quantity.Volt, (m.Levels.High-m.Levels.Low)/9.9, m.Levels.Low, m.Levels.High) // a tenth of the swing has two digits
	p.prose("  ", "  ", fmt.Sprintf("levels %s and %s, reference %s, %s", v.Digits(m.Levels.Low), v.Format(m.Levels.High), v.Format(m.Levels.Reference), plural(m.Cycles, "whole cycle")))
	if text := faults(m.Faults); text != "" {
		p.prose("  kept out: ", "    ", text)
	}
	if p.style.Explain {
		p.budget(m)
	}
	for _, n := range m.Notes {
		p.prose("  - ", "    ", n)
	}
	p.waveform(c.Waveform)
	p.stability(c.Stability, true)
}

// faults lists what was met in the train and left out; the partial pulses at the ends always are.
func faults(f fit.Faults) string {
	var all []string
	for _, k := range []struct {
		n         int
		one, many string
	}{
		{f.Partial, "partial pulse", "partial pulses"},
		{f.Runts, "runt", "runts"},
		{f.Glitches, "glitch", "glitches"},
		{f.Dropped, "dropped edge pair", "dropped edge pairs"},
		{f.Unknown, "pulse with unknown samples", "pulses with unknown samples"},
	} {
		switch {
		case k.n == 1:
			all = append(all, "1 "+k.one)
		case k.n > 1:
			all = append(all, fmt.Sprintf("%d %s", k.n, k.many))
		}
	}
	return strings.Join(all, ", ")
}

// budget lists where the uncertainty of the times comes from (JCGM 100 5.1).
func (p *printer) budget(m *fit.Measurement) {
	var rows [][]cell
	s := func(x float64) string { return termText(m, x) }
	for _, t := range m.Budget {
		low, period := s(t.Low), s(t.Period)
		if m.Low.Count == 0 {
			low, period = "", ""
		}
		rows = append(rows, plain(t.Name, t.Kind, t.Distribution, s(t.High), low, period))
	}
	p.table([]column{{head: "component"}, {head: "type"}, {head: "distribution", drop: 1}, {head: "high", right: true}, {head: "low", right: true, drop: 2}, {head: "period", right: true, drop: 3}}, rows)
	if math.IsNaN(m.Levels.Noise) || m.Levels.Noise == 0 {
		return
	}
	p.line("  noise about the levels %s V", short(m.Levels.Noise))
}
