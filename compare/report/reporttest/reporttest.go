// Package reporttest has what reports are made from, for tests: boards integrated from Kirchhoff's law, recorded and
// reconciled, and invented findings with every kind of line.
package reporttest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/manifest"
	"offbeat/acquire/open"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/report/document"
	"offbeat/compare/report/picture"
	"offbeat/compare/retune"
	"offbeat/compare/session"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/follow"
	"offbeat/fit/latch"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/predict"
	"offbeat/fit/waveform"
)

// Lamp is a harbour lamp's timer as drawn.
func Lamp() *fit.Design {
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
	single bool // a monostable
	edges  bool // a transition list; else a table of time and volt
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
	write := acquiretest.TimeVolt
	if how.edges {
		write = acquiretest.Transitions
	}
	if err := write(&file, s, acquiretest.Form{Step: (high + low) / 800, Bits: 8}); err != nil {
		t.Fatal(err)
	}
	src, err := open.OpenReader("lamp3.csv", &file, acquire.Options{})
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

// basis is all that is known of one board.
func basis(t testing.TB, d *fit.Design, n fittest.Network, captures ...recording) *document.Basis {
	t.Helper()
	p := &document.Basis{Design: d}
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

// LampBasis is a lamp whose capacitor has grown.
func LampBasis(t testing.TB) *document.Basis {
	return basis(t, Lamp(), fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 118e-9, Supply: 5}, recording{cycles: 40})
}

// crowded is a board with as much to say as one board can have: four parts, two wanted quantities, more captures
// than are drawn, a warning for everything.
func crowded(t testing.TB) *document.Basis {
	d := &fit.Design{Title: "Quay light, both lamps in turn, with the long name that its drawer carries", Circuit: "multivibrator", Family: fit.Bipolar, History: fit.Worked,
		Supply: fit.Reading{Value: 9, Half: 0.5},
		Parts: []fit.Part{
			{Name: "R1", Nominal: 220e3, Minus: 0.05, Plus: 0.05}, {Name: "C1", Kind: fit.Capacitor, Class: "electrolytic", Nominal: 4.7e-6, Minus: 0.2, Plus: 0.2},
			{Name: "R2", Nominal: 220e3, Minus: 0.05, Plus: 0.05}, {Name: "C2", Kind: fit.Capacitor, Class: "electrolytic", Nominal: 4.7e-6, Minus: 0.2, Plus: 0.2}},
		Targets:    []fit.Target{{Quantity: "frequency", Value: 0.7, Low: 0.65, High: 0.75}, {Quantity: "duty_factor", Value: 0.5, Low: 0.45, High: 0.55}},
		ClockLimit: 50e-6,
	}
	n := fittest.Network{Circuit: fittest.Multivibrator, R1: 221e3, R2: 219e3, C: 4.9e-6, C2: 6.6e-6, Supply: 9, Saturation: 0.1, BaseEmitter: 0.65}
	p := basis(t, d, n, recording{cycles: 9}, recording{cycles: 15}, recording{cycles: 30}, recording{cycles: 12}, recording{cycles: 12})
	for range 3 {
		p.Finding.Warnings = append(p.Finding.Warnings,
			fmt.Sprintf("%d rows could not be used: the level is clipped at the instrument's rail, so the state levels may be off", len(p.Finding.Warnings)),
			fmt.Sprintf("the supply was not stated for capture %d, so 9 V is taken from the drawing, and its limits with it", len(p.Finding.Warnings)))
	}
	return p
}

// pulse is a monostable, recorded as states alone.
func pulse(t testing.TB) *document.Basis {
	d := &fit.Design{Title: "Fog horn", Circuit: "monostable", Family: fit.CMOS, History: fit.New, Supply: fit.Reading{Value: 5},
		Parts:      []fit.Part{{Name: "R1", Nominal: 100e3, Minus: 0.05, Plus: 0.05}, {Name: "C1", Kind: fit.Capacitor, Nominal: 10e-6, Minus: 0.2, Plus: 0.2, Class: "electrolytic"}},
		Targets:    []fit.Target{{Quantity: "high_time", Value: 1.1, Low: 1, High: 1.2}},
		ClockLimit: 50e-6,
	}
	n := fittest.Network{Circuit: fittest.Monostable, R1: 101e3, C: 13e-6, Supply: 5}
	return basis(t, d, n, recording{cycles: 6, single: true, edges: true})
}

// sinceBasis is a lamp whose capacitor has grown since an earlier visit, two captures of it.
func sinceBasis(t testing.TB) *document.Basis {
	n := fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 99e-9, Supply: 5}
	earlier := basis(t, Lamp(), n, recording{cycles: 40}).Finding
	n.C = 118e-9
	p := basis(t, Lamp(), n, recording{cycles: 40}, recording{cycles: 25})
	captures := p.Finding.Captures
	var seen []question.Observation
	for _, m := range p.Measurements {
		seen = append(seen, question.Observation{Measurement: m})
	}
	var err error
	if p.Finding, p.Evidence, err = reconcile.SolveUntil(context.Background(), Lamp(), seen, earlier); err != nil {
		t.Fatal(err)
	}
	p.Finding.Captures = captures
	return p
}

// Pages are one basis of each kind of page.
func Pages(t testing.TB) map[string]*document.Basis {
	t.Helper()
	p := LampBasis(t)
	hopeless := *p
	hopeless.Proposals = []compare.Proposal{}
	d, _, many, rows := LotBench(t)
	r, err := predict.Run(Lamp())
	if err != nil {
		t.Fatal(err)
	}
	return map[string]*document.Basis{"reconcile": p, "retune": tuned(t, p), "hopeless": &hopeless, "since": sinceBasis(t), "lot": {Design: d, Lot: many, Boards: rows}, "predict": {Design: Lamp(), Prediction: r},
		"crowded": crowded(t), "probed": Probed(t), "pulse": pulse(t), "session": HeardBasis(p), "bistable": Bistable(),
		"measure": {Captures: p.Finding.Captures, Measurements: p.Measurements, Traces: p.Traces, Warnings: []string{"The instrument's clock is taken as a crystal's."}}}
}

// Bistable is a latch with a fault in its only capture.
func Bistable() *document.Basis {
	return &document.Basis{Design: &fit.Design{Title: "Swing bridge", Circuit: "bistable", Inputs: fit.ActiveLow}, Finding: Broken(), Checks: []bistable.Check{{Source: "a.csv", Result: &latch.Result{
		Sets: 1, FalseResets: 1, Events: []latch.Event{{Time: 6, What: "output fell without a reset"}},
		States: []latch.State{{Time: 0}, {Time: 2, Set: true, Out: true}, {Time: 3, Out: true}, {Time: 6}, {Time: 10}}}}}}
}

// Finding is invented; it has every kind of line.
func Finding() *compare.Finding {
	m := func(v, u float64) *compare.Measured { return &compare.Measured{Value: v, Uncertainty: u, Count: 11} }
	e := func(n, low, high float64) *compare.Predicted {
		return &compare.Predicted{Nominal: n, Low: low, High: high}
	}
	return &compare.Finding{
		Schema: 1, Title: "Harbour lamp", Finding: "Off target (frequency). Most likely C1 about 122.7 nF, 23 % above its nominal 100 nF (78 %).",
		Measured:  compare.Times[compare.Measured]{High: m(4.8796e-3, 2.1e-6), Low: m(4.0782e-3, 2.1e-6), Period: m(8.9577e-3, 1.4e-6), Frequency: m(111.635, 0.018), Duty: m(0.54473, 0.00022)},
		Predicted: compare.Times[compare.Predicted]{High: e(3.965e-3, 3.532e-3, 4.405e-3), Low: e(3.306e-3, 2.945e-3, 3.673e-3), Period: e(7.27e-3, 6.478e-3, 8.077e-3), Frequency: e(137.5, 123.8, 154.4), Duty: e(0.5453, 0.5445, 0.5462)},
		Groups:    []compare.Group{{Group: "R2*C1", Nominal: 4.7e-3, Value: 5.83e-3, Uncertainty: 0.22e-3, Unit: "s"}, {Group: "R1/R2", Nominal: 0.2128, Value: 0.2, Uncertainty: 0.046, Unit: "1"}},
		Parts: []compare.Part{
			{Name: "R1", Unit: "ohm", Nominal: 10e3, Tolerance: 0.01, Limits: [2]float64{9.9e3, 10.1e3}, Value: 10.002e3, Interval95: [2]float64{9.91e3, 10.42e3}, OutOfTolerance: 0.051},
			{Name: "R2", Unit: "ohm", Nominal: 47e3, Tolerance: 0.01, Limits: [2]float64{46.53e3, 47.47e3}, Value: 46.9e3, Interval95: [2]float64{30e3, 47.4e3}, OutOfTolerance: 0.00001},
			{Name: "C1", Unit: "F", Nominal: 100e-9, Tolerance: 0.5, Limits: [2]float64{90e-9, 150e-9}, Value: 250e-9, Interval95: [2]float64{240e-9, 260e-9}, OutOfTolerance: 0.99999},
		},
		Causes: []compare.Cause{
			{Cause: "shifted", Parts: []string{"C1"}, Probability: 0.78, Value: ref(122.7e-9), Unit: "F", Detail: "C1 about 122.7 nF, 23 % above its nominal 100 nF", PriorOdds: 0.15},
			{Cause: "thresholds", Probability: 0.14, Value: ref(0.75), Detail: "control pin at about 0.75 of the supply instead of 0.667, said at such length that the line must be broken", PriorOdds: 0.02},
			{Cause: "nothing", Probability: 0.07, Detail: "every part in tolerance", PriorOdds: 1},
			{Cause: "clock", Probability: 0.006, Detail: "instrument's times read 3 % long", PriorOdds: 0.005},
			{Cause: "unexplained", Probability: 0.004, Detail: "none of the listed causes fits the times", PriorOdds: 0.01},
		},
		Verdict: compare.Verdict{Result: "fail", Quantity: "frequency", Rule: "ILAC-G8:09/2019 guard band", Each: []compare.QuantityVerdict{
			{Quantity: "frequency", Result: "fail", Value: 111.635, Uncertainty: 0.018, Limits: [2]float64{121.4, 154.6}, ProbabilityIn: 0},
			{Quantity: "duty_factor", Result: "pass", Value: 0.54473, Uncertainty: 0.00022, Limits: [2]float64{0.5, 0.6}, ProbabilityIn: 1}}},
		Next: []compare.Next{
			{Reading: "resistance of R2, one leg lifted", Part: "R2", Information: 0.763, Effort: 4, Caution: "Power off and discharge the capacitor first; lift one leg, since an in-circuit reading sees parallel paths, and then some."},
			{Reading: "resistance of R1, one leg lifted", Part: "R1", Information: 0.1, Effort: 1, Caution: "Power off first."},
			{Reading: "control-pin voltage", Information: 0.05, Effort: 0.5, Caution: "The board is live."}},
		Captures:   []compare.Capture{{Source: "lamp-2.csv", Record: 1, Shape: "time and volt table with preamble", Rows: 4999, Skipped: 2, Cycles: 10, Notes: []string{"2 rows had no level"}, Evidence: []string{"delimiter \",\""}}},
		Confounded: []string{"The times see only R2*C1 and R1/R2.", compare.NotExcluded + "C1 about 122.7 nF: thresholds moved (14 %)."}, // the second is left to the list
		Warnings:   []string{"supply: not given, taken as 5 V ± 5 %"},
	}
}

func ref(x float64) *float64 { return &x }

// Broken is an invented latch with every kind of line.
func Broken() *compare.Finding {
	return &compare.Finding{
		Schema: 1, Title: "Swing bridge", Finding: "The latch breaks its truth table: the output fell 12 times without a reset.",
		Verdict: compare.Verdict{Result: "fail", Quantity: "truth table", Rule: "pass when it does"},
		Latch: &compare.Latch{Inputs: "active low", Sets: 14, Resets: 2, FalseResets: 12, Bounces: 7, SetBounces: 5, ResetBounces: 2, Settling: 10e-6,
			Table:    []latch.Row{{Expected: "holds", Time: 71.2, Wrong: 0.35}, {Set: true, Expected: "high", Time: 1.3}, {Reset: true, Expected: "low", Time: 0.4}, {Set: true, Reset: true, Expected: "low"}},
			Shortest: &compare.Measured{Value: 5.02e-3, Uncertainty: 4e-7, Count: 14},
			Events:   slices.Repeat([]compare.LatchEvent{{Source: "a.csv", Time: 1.25, What: "output fell without a reset"}, {Source: "b.csv", Time: 2.75000001, What: "output fell without a reset"}}, 6),
			Advice:   []compare.Advice{{Look: "the supply on an analogue channel", Caution: "The board is live."}}},
		Captures: []compare.Capture{{Source: "a.csv", Record: 1, Shape: "transition list", Rows: 499}},
	}
}

// Prediction is invented.
func Prediction(onePulse bool) (*fit.Design, *predict.Result) {
	band := func(n float64) predict.Band {
		return predict.Band{Nominal: n, FirstOrder: 0.99 * n, Worst: [2]float64{0.9 * n, 1.1 * n}, RSS: [2]float64{0.92 * n, 1.08 * n}, MonteCarlo: [2]float64{0.88 * n, 1.12 * n}}
	}
	r := &predict.Result{OnePulse: onePulse, Bands: []predict.Band{band(4e-3), band(3e-3), band(7e-3), band(142.9), band(0.571)},
		Budget: []predict.Row{
			{Input: "R1", Value: 10e3, Uncertainty: 58, Distribution: "rectangular", Effect: [5]float64{0.001, 32e-6, 0.0005, 0.0005, 0}, Source: "tolerance, JCGM 100 4.3.7"},
			{Input: "supply", Value: 5, Uncertainty: 0.06, Distribution: "rectangular", Effect: [5]float64{1e-12, 1e-6, 0, 0.12, 1e-7}, Shift: [5]float64{-0.0026, 0.011, 1e-7, -0.0005, 0}, Source: "as stated"}}}
	return &fit.Design{Title: "Harbour lamp", Circuit: "astable"}, r
}

// LotBench is a lot of the harbour's lamps: the capacitors' reel 16 % low, one board with R2 a fifth high, one that
// could not be judged, two lots, every board captured twice. It is made once for all tests, which only read it.
func LotBench(t testing.TB) (*fit.Design, []*ledger.Visit, *lot.Report, []lot.Row) {
	t.Helper()
	b, err := madeLot()
	if err != nil {
		t.Fatal(err)
	}
	return b.design, b.visits, b.report, b.rows
}

type benchLot struct {
	design *fit.Design
	visits []*ledger.Visit
	report *lot.Report
	rows   []lot.Row
}

var madeLot = sync.OnceValues(func() (*benchLot, error) {
	d := Lamp()
	d.Family = fit.Ideal
	var entries []manifest.Entry
	for i := range 30 {
		for k := range 2 {
			entries = append(entries, manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Lot: fmt.Sprint("week ", 1+i/15), Station: "quay", Capture: fmt.Sprintf("lamp-%d.csv", k)})
		}
	}
	boards := lot.NewReconciler(d)
	work := func(ctx context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
		var i int
		fmt.Sscanf(b.Name, "lamp %d", &i)
		if i == 9 {
			return nil, nil, errors.New("lamp.csv:17:3: cut short <&>")
		}
		r := rand.New(rand.NewPCG(8, uint64(i)))
		n := fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3 * (1 + 0.003*r.NormFloat64()), R2: 47e3 * (1 + 0.003*r.NormFloat64()), C: 84e-9 * (1 + 0.01*r.NormFloat64())}
		if i == 20 {
			n.R2 *= 1.2
		}
		high, low, err := fittest.Integrate(n)
		if err != nil {
			return nil, nil, err
		}
		var each []lot.Measured
		var ms []*fit.Measurement
		for k := range b.Captures {
			e := func(v float64) fit.Estimate {
				return fit.Estimate{Value: v * (1 + 1e-4*r.NormFloat64()), Uncertainty: 1e-4 * v, Count: 60}
			}
			m := &fit.Measurement{Source: "lamp.csv", High: e(high), Low: e(low), Cycles: 60}
			each, ms = append(each, lot.Measured{Entry: &b.Captures[k], Measurement: m}), append(ms, m)
		}
		f, err := boards.Board(ctx, b, ms)
		return f, each, err
	}
	c := lot.NewCollector(d)
	run, err := ledger.NewRun(d, nil, "1.0", nil)
	if err != nil {
		return nil, err
	}
	var visits []*ledger.Visit
	err = lot.Run(context.Background(), lot.Group(entries), work, lot.RunOptions{}, func(o *lot.Outcome) error {
		c.Add(o)
		visits = append(visits, run.Visit(o))
		return nil
	})
	if err != nil {
		return nil, err
	}
	r, err := c.Report(lot.Options{})
	return &benchLot{d, visits, r, c.Rows()}, err
})

// digest stands for a file's, without a digit: a test of numbers passes over it.
var digest = strings.Repeat("cafebeed", 8)

// Digested is a lot's basis whose first capture has its digest.
func Digested(b *document.Basis) *document.Basis {
	own := *b
	own.Boards = slices.Clone(b.Boards)
	own.Boards[0].Files = slices.Clone(own.Boards[0].Files)
	own.Boards[0].Files[0].SHA256 = digest
	return &own
}

// Visits are three of one board; the third could not be judged.
func Visits() []ledger.Visit {
	at := time.Date(2026, 1, 31, 8, 0, 0, 0, time.UTC)
	visit := func(years int, frequency float64) ledger.Visit {
		return ledger.Visit{Key: "k", Board: "lamp 7", Lot: "week 5", Verdict: "pass", At: at.AddDate(years, 0, 0), Cause: "shifted", CauseParts: []string{"C1"}, Probability: 0.9,
			Measured: compare.Times[compare.Measured]{Frequency: &compare.Measured{Value: frequency, Uncertainty: 0.01, Count: 60}}, Captures: []ledger.Capture{{Name: "lamp.csv", SHA256: digest}}}
	}
	return []ledger.Visit{visit(0, 138), visit(1, 138.0*1.01), {Board: "lamp 7", Error: "cut short", At: at.AddDate(2, 0, 0)}}
}

// HeardSnapshot is a session of two minutes that ends as the finding says; C1 was cooled after one.
func HeardSnapshot(f *compare.Finding, d *fit.Design) *session.Snapshot {
	sh := &session.Snapshot{Design: d, Time: 120, Last: [2]float64{4e-3, 3.3e-3}, Finding: f}
	for i := range 120 {
		cooled := 1 - 0.012*(1-math.Exp(-max(float64(i)-60, 0)/6))
		p := follow.Point{Begin: float64(i), End: float64(i + 1), Cycles: 137}
		p.High = fit.Estimate{Value: 4e-3 * cooled * (1 + 1e-5*math.Sin(float64(7*i))), Uncertainty: 3e-8, Count: 137}
		p.Low = fit.Estimate{Value: 3.3e-3 * cooled, Uncertainty: 3e-8, Count: 137}
		sh.Points = append(sh.Points, p)
	}
	now := session.TimesOf(sh.Points[119])
	sh.Now = &now
	sh.Drift = compare.Times[compare.Measured]{High: &compare.Measured{Value: -0.012, Uncertainty: 4e-5}, Period: &compare.Measured{Value: -0.012, Uncertainty: 2e-5}, Duty: &compare.Measured{Value: 1.2e-5, Uncertainty: 2e-5}}
	for _, q := range f.Parts {
		t := session.Trend{Part: q}
		for i := range 20 {
			t.Time = append(t.Time, 6*float64(i)+3)
			t.Median = append(t.Median, q.Value*(1+0.001*float64(i)))
			t.Interval = append(t.Interval, q.Interval95)
		}
		sh.Parts = append(sh.Parts, t)
	}
	good, bad := 0.8, 1e-9
	sh.Stream = acquire.StreamCounts{Lines: 33000, Edges: 32990, Readings: 32993, Garbage: 7, Chatter: 5, Lost: 1, Wraps: 1, Reconnects: 2, Backward: 3}
	sh.Marks = []compare.Mark{
		{Number: 1, Time: 60, Text: "cooled C1 with <spray>", High: &compare.MarkStep{Relative: -0.012, Uncertainty: 1e-4, Settling: 6}, Low: &compare.MarkStep{Relative: -0.0119, Uncertainty: 1.3e-4},
			Parts: []compare.PartMoved{{Name: "C1", Relative: -0.01196, Uncertainty: 8e-5, Fit: &good}, {Name: "R2", Relative: -0.012, Uncertainty: 8e-5, Fit: &bad}}},
		{Number: 2, Time: 119, Text: "touched R2", Note: "no step yet: 50 points before the mark and 1 after it"},
	}
	return sh
}

// HeardBasis is a page with a session in it.
func HeardBasis(p *document.Basis) *document.Basis {
	q := *p
	q.Session = HeardSnapshot(p.Finding, p.Design)
	return &q
}

// Probed is a leaking lamp seen by two channels, with a drift that the capacitor would make.
func Probed(t testing.TB) *document.Basis {
	t.Helper()
	const step = 37.3e-6
	out, node, err := fittest.Trace(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 98e-9, Leak: 300e3}, 1e-3, step, 4000)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 8))
	for i := range out {
		out[i] += 0.02 * rng.NormFloat64()
		node[i] += 0.02 * rng.NormFloat64()
	}
	c, trace := picture.Tap(measuretest.FromRows(acquire.Capture{Source: "probed.csv", Kind: acquire.Samples, Step: step}, nil, out, node))
	w, err := waveform.Fit(c, waveform.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p := &document.Basis{Design: Lamp()}
	if p.Finding, p.Evidence, err = reconcile.SolveWith(Lamp(), []question.Observation{{Measurement: w.Measurement, Waveform: w}}); err != nil {
		t.Fatal(err)
	}
	p.Measurements, p.Traces = append(p.Measurements, w.Measurement), append(p.Traces, trace)
	warming := 1.5
	p.Finding.Stability = &compare.Stability{EdgeNoise: compare.Measured{Value: 2e-6, Uncertainty: 1e-7}, PeriodNoise: compare.Measured{Value: 5e-7, Uncertainty: 2e-8},
		Allan: []compare.AllanPoint{{Time: 7e-3, Value: 4e-4, Terms: 900}},
		Drift: compare.Drift{Against: "time", Unit: "1/s", Value: 1e-5, Uncertainty: 2e-7, Seen: true, Range: 20,
			Causes: []compare.DriftCause{{Part: "C1", Value: 1e-5, Uncertainty: 2e-7, Fit: 0.6, Tempco: [2]float64{-240e-6, -160e-6}, Warming: &warming, Plausible: true}}}}
	p.Finding.Captures = []compare.Capture{{Source: "probed.csv", Record: 1, Shape: "time and volt table", Rows: 4000, Cycles: w.Measurement.Cycles, Notes: []string{}}}
	return p
}

// tuned is the lamp's page with proposals for two wanted quantities out of a stock.
func tuned(t testing.TB, lamp *document.Basis) *document.Basis {
	p, d := *lamp, *lamp.Design
	d.Targets = append(append([]fit.Target{}, d.Targets...), fit.Target{Quantity: "duty_factor", Value: 0.545, Low: 0.52, High: 0.57})
	p.Design = &d
	var err error
	p.Proposals, err = retune.Run(&d, p.Evidence, retune.Options{Count: 20, Stock: []retune.Item{{Value: 22e3, Minus: 0.01, Plus: 0.01}, {Value: 18e3, Minus: 0.01, Plus: 0.01}, {Kind: fit.Capacitor, Value: 100e-9, Minus: 0.1, Plus: 0.1}}})
	if err != nil {
		t.Fatal(err)
	}
	return &p
}
