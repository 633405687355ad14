package report

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/latch"
	"offbeat/fit/measure"
	"offbeat/fit/predict"
)

// lamp is a harbour lamp's timer as drawn.
func lamp() *fit.Design {
	return &fit.Design{Title: "Harbour lamp 3", Circuit: "astable", Family: fit.CMOS, History: fit.Worked,
		Supply: fit.Reading{Name: "supply", Value: 5, Half: 0.1},
		Parts: []fit.Part{
			{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		},
		Targets:    []fit.Target{{Quantity: "frequency", Value: 138, Low: 138 * 0.97, High: 138 * 1.03}},
		Clock:      "crystal",
		ClockLimit: 50e-6,
	}
}

// recording says how a board's output is recorded.
type recording struct {
	cycles int
	single bool   // a monostable
	writer string // of acquiretest.Writers; empty: a table of time and volt
}

// board integrates a board from Kirchhoff's law and records its output.
func board(t testing.TB, n fittest.Network, how recording) (*fit.Measurement, *picture.Trace) {
	t.Helper()
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	if how.single {
		low = 1.7 * high // when the next trigger comes
	}
	s := acquiretest.Astable(high, low, how.cycles)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range s.Edges {
		s.Edges[i] += rng.NormFloat64() * 4e-4 * low
	}
	s.Low, s.High, s.Rise, s.Noise, s.Rand = 0.04, 4.9, 2e-3*low, 0.02, rng
	var file bytes.Buffer
	for _, w := range acquiretest.Writers {
		if w.Name == how.writer || how.writer == "" {
			if err := w.Write(&file, s, acquiretest.Form{Step: (high + low) / 800, Bits: 8}); err != nil {
				t.Fatal(err)
			}
			break
		}
	}
	src, err := acquire.OpenReader("lamp3.csv", &file, acquire.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := src.Next()
	if err != nil {
		t.Fatal(err)
	}
	tapped, trace := picture.Tap(c)
	m, err := measure.Run(tapped, measure.Options{ClockLimit: 50e-6, SinglePulse: how.single})
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	return m, trace
}

// page is the whole page of one board.
func page(t testing.TB, d *fit.Design, n fittest.Network, captures ...recording) Page {
	t.Helper()
	p := Page{Design: d, Made: time.Date(2001, 2, 3, 14, 5, 0, 0, time.UTC), Version: "test"}
	var read []compare.Capture
	for i, how := range captures {
		m, trace := board(t, n, how)
		p.Measurements, p.Traces = append(p.Measurements, m), append(p.Traces, trace)
		measured := reconcile.Measured(m)
		read = append(read, compare.Capture{Measured: &measured, Source: fmt.Sprintf("lamp3-%d.csv", i+1), Shape: "time and volt table", Rows: trace.Rows, Cycles: m.Cycles})
	}
	var err error
	if p.Finding, p.Evidence, err = reconcile.Solve(d, p.Measurements); err != nil {
		t.Fatal(err)
	}
	p.Finding.Captures = read
	return p
}

// lampPage is the page of a lamp whose capacitor has grown.
func lampPage(t testing.TB) Page {
	return page(t, lamp(), fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 118e-9, Supply: 5}, recording{cycles: 40})
}

// crowded is a board with as much to say as one board can have: four parts, two wanted quantities, more captures
// than are drawn, a warning for everything.
func crowded(t testing.TB) Page {
	d := &fit.Design{Title: "Quay light, both lamps in turn, with the long name that its drawer carries", Circuit: "multivibrator", Family: fit.Bipolar, History: fit.Worked,
		Supply: fit.Reading{Value: 9, Half: 0.5},
		Parts: []fit.Part{
			{Name: "R1", Nominal: 220e3, Minus: 0.05, Plus: 0.05}, {Name: "C1", Kind: fit.Capacitor, Class: "electrolytic", Nominal: 4.7e-6, Minus: 0.2, Plus: 0.2},
			{Name: "R2", Nominal: 220e3, Minus: 0.05, Plus: 0.05}, {Name: "C2", Kind: fit.Capacitor, Class: "electrolytic", Nominal: 4.7e-6, Minus: 0.2, Plus: 0.2}},
		Targets:    []fit.Target{{Quantity: "frequency", Value: 0.7, Low: 0.65, High: 0.75}, {Quantity: "duty_factor", Value: 0.5, Low: 0.45, High: 0.55}},
		ClockLimit: 50e-6,
	}
	n := fittest.Network{Circuit: fittest.Multivibrator, R1: 221e3, R2: 219e3, C: 4.9e-6, C2: 6.6e-6, Supply: 9, Saturation: 0.1, BaseEmitter: 0.65}
	p := page(t, d, n, recording{cycles: 9}, recording{cycles: 15}, recording{cycles: 30}, recording{cycles: 12}, recording{cycles: 12})
	for range 3 {
		p.Finding.Warnings = append(p.Finding.Warnings,
			fmt.Sprintf("%d rows could not be used: the level is clipped at the instrument's rail, so the state levels may be off", len(p.Finding.Warnings)),
			fmt.Sprintf("the supply was not stated for capture %d, so 9 V is taken from the drawing, and its limits with it", len(p.Finding.Warnings)))
	}
	return p
}

// pulse is a monostable, recorded as states alone.
func pulse(t testing.TB) Page {
	d := &fit.Design{Title: "Fog horn", Circuit: "monostable", Family: fit.CMOS, History: fit.New, Supply: fit.Reading{Value: 5},
		Parts:      []fit.Part{{Name: "R1", Nominal: 100e3, Minus: 0.05, Plus: 0.05}, {Name: "C1", Kind: fit.Capacitor, Nominal: 10e-6, Minus: 0.2, Plus: 0.2, Class: "electrolytic"}},
		Targets:    []fit.Target{{Quantity: "high_time", Value: 1.1, Low: 1, High: 1.2}},
		ClockLimit: 50e-6,
	}
	n := fittest.Network{Circuit: fittest.Monostable, R1: 101e3, C: 13e-6, Supply: 5}
	return page(t, d, n, recording{cycles: 6, single: true, writer: "transitions"})
}

// sincePage is the page of a lamp whose capacitor has grown since an earlier visit, two captures of it.
func sincePage(t testing.TB) Page {
	n := fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 99e-9, Supply: 5}
	earlier := page(t, lamp(), n, recording{cycles: 40}).Finding
	n.C = 118e-9
	p := page(t, lamp(), n, recording{cycles: 40}, recording{cycles: 25})
	captures := p.Finding.Captures
	var seen []reconcile.Observation
	for _, m := range p.Measurements {
		seen = append(seen, reconcile.Observation{Measurement: m})
	}
	var err error
	if p.Finding, p.Evidence, err = reconcile.SolveSince(lamp(), seen, earlier); err != nil {
		t.Fatal(err)
	}
	p.Finding.Captures = captures
	return p
}

// pages are one of each kind.
func pages(t testing.TB) map[string]Page {
	t.Helper()
	p := lampPage(t)
	hopeless := p
	hopeless.Proposals = []compare.Proposal{}
	d, _, many, rows := lotBench(t)
	r, err := predict.Run(lamp())
	if err != nil {
		t.Fatal(err)
	}
	return map[string]Page{"reconcile": p, "retune": tuned(t), "hopeless": hopeless, "since": sincePage(t), "lot": {Design: d, Lot: many, Boards: rows}, "predict": {Design: lamp(), Prediction: r}, "crowded": crowded(t), "probed": probed(t), "pulse": pulse(t), "session": heardPage(p),
		"bistable": {Design: &fit.Design{Title: "Swing bridge", Circuit: "bistable", Inputs: fit.ActiveLow}, Finding: broken(), Checks: []bistable.Check{{Source: "a.csv", Result: &latch.Result{
			Sets: 1, FalseResets: 1, Events: []latch.Event{{Time: 6, What: "output fell without a reset"}},
			States: []latch.State{{Time: 0}, {Time: 2, Set: true, Out: true}, {Time: 3, Out: true}, {Time: 6}, {Time: 10}}}}}},
		"measure": {Captures: p.Finding.Captures, Measurements: p.Measurements, Traces: p.Traces, Warnings: []string{"The instrument's clock is taken as a crystal's."}}}
}
