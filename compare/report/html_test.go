package report

import (
	"bytes"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/compare/retune"
	"offbeat/fit"
	"offbeat/fit/fittest"
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

// board integrates a board from Kirchhoff's law and records its output.
func board(t testing.TB, n fittest.Network, cycles int) (*fit.Measurement, *picture.Trace) {
	t.Helper()
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	s := acquiretest.Astable(high, low, cycles)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range s.Edges {
		s.Edges[i] += rng.NormFloat64() * 4e-4 * low
	}
	s.Low, s.High, s.Rise, s.Noise, s.Rand = 0.04, 4.9, 2e-3*low, 0.02, rng
	var file bytes.Buffer
	if err := acquiretest.Writers[0].Write(&file, s, acquiretest.Form{Step: (high + low) / 800, Bits: 8}); err != nil {
		t.Fatal(err)
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
	m, err := measure.Run(tapped, measure.Options{ClockLimit: 50e-6})
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	return m, trace
}

// page is the whole page of one board.
func page(t testing.TB) Page {
	t.Helper()
	m, trace := board(t, fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 118e-9, Supply: 5}, 40)
	d := lamp()
	f, e, err := reconcile.Solve(d, []*fit.Measurement{m})
	if err != nil {
		t.Fatal(err)
	}
	f.Captures = []compare.Capture{{Source: "lamp3.csv", Shape: "time and volt table", Rows: trace.Rows, Cycles: m.Cycles}}
	return Page{Design: d, Finding: f, Measurements: []*fit.Measurement{m}, Traces: []*picture.Trace{trace}, Evidence: e,
		Made: time.Date(2001, 2, 3, 14, 5, 0, 0, time.UTC), Version: "test"}
}

// pages are one of each kind.
func pages(t testing.TB) map[string]Page {
	t.Helper()
	p := page(t)
	q := p
	var err error
	if q.Proposals, err = retune.Run(p.Design, p.Evidence, retune.Options{}); err != nil {
		t.Fatal(err)
	}
	r, err := predict.Run(lamp())
	if err != nil {
		t.Fatal(err)
	}
	return map[string]Page{"reconcile": p, "retune": q, "predict": {Design: lamp(), Prediction: r}}
}
