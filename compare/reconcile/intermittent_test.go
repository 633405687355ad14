package reconcile

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// jumping is a capture of a board whose capacitor is another in some of its cycles, each timed by integrating Kirchhoff's law.
func jumping(t *testing.T, cycles int, capacitor func(i int) float64) *fit.Measurement {
	t.Helper()
	rnd := rand.New(rand.NewPCG(3, 3))
	now := 1e-3
	var edges []float64
	for i := range cycles {
		n := soundNetwork
		n.C *= capacitor(i)
		high, low, err := fittest.Integrate(n)
		if err != nil {
			t.Fatal(err)
		}
		edges = append(edges, now+1e-6*rnd.NormFloat64(), now+high+1e-6*rnd.NormFloat64())
		now += high + low
	}
	w := measuretest.Wave{Kind: acquire.Samples, Step: 2e-5, Noise: 0.02, Code: 8.0 / 256, High: now, Low: 0.01, Cycles: now / (now + 0.01)}
	m, err := measure.Run(w.CaptureOf(edges, rnd), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A capacitor that loses 8 % for a while: the finding leads with the change, names C1 for it, solves each stretch, and never
// passes the board, though it is within its target all the time.
func TestIntermittentIsNeverPassed(t *testing.T) {
	m := jumping(t, 120, func(i int) float64 {
		if i >= 40 && i < 70 {
			return 0.92
		}
		return 1
	})
	d := design("astable")
	p := m.Stretches
	if len(p) != 3 || len(m.Changes) != 2 || m.Changes[0].Before != p[0].Period().Value || m.Changes[1].After != p[2].Period().Value {
		t.Fatalf("%d stretches, changes %v", len(p), m.Changes)
	}
	d.Targets = []fit.Target{{Quantity: "period", Low: 0.8 * p[0].Period().Value, High: 1.2 * p[0].Period().Value}}
	f, _, err := Solve(d, []*fit.Measurement{m})
	if err != nil {
		t.Fatal(err)
	}
	if f.Verdict.Result != verdict.Undecided || !strings.HasPrefix(f.Finding, "Intermittent: ") || strings.Join(f.Answer, " ") != f.Finding || !strings.Contains(f.Finding, "C1 by −8 %") || strings.Contains(f.Finding, "On target") {
		t.Errorf("%+v %q", f.Verdict, f.Finding)
	}
	if !slices.Contains(f.Answer, "Not passed, for that alone.") {
		t.Errorf("%q, though each stretch is well inside", f.Answer)
	}
	near := *d
	near.Targets = []fit.Target{{Quantity: "period", Low: p[1].Period().Value * (1 - 1e-7), High: 1.2 * p[0].Period().Value}}
	if f, _, err := Solve(&near, []*fit.Measurement{m}); err != nil || !slices.Contains(f.Answer, "Not passed: a stretch is too close to a limit, too.") {
		t.Errorf("%q, though one stretch lies at a limit: %v", f.Answer, err)
	}
	if len(f.Stretches) != 3 || f.Stretches[1].Measured.Period.Value/f.Stretches[0].Measured.Period.Value > 0.93 || *f.Stretches[1].From != m.Changes[0].Time || f.Stretches[2].To != nil {
		t.Errorf("%+v", f.Stretches)
	}
	// Out of target in the one stretch: the board fails.
	d.Targets[0].Low = 0.96 * p[0].Period().Value
	if f, _, err = Solve(d, []*fit.Measurement{m}); err != nil || f.Verdict.Result != verdict.Fail {
		t.Errorf("%+v, %v", f.Verdict, err)
	}
	s := course.Explained(d, []compare.Capture{{}, {Stability: course.Of(m, nil, 2e-5)}})
	if s == nil || len(s.Changes) != 2 || !(math.Abs(s.Changes[0].Time-m.Changes[0].Time) <= 0) {
		t.Errorf("%+v", s)
	}
}

// A capacitor that grows by 1 % over the capture drifts, one that comes near to its value as it warms up is no straight line: both lead
// the finding, and neither passes. One that grows by 0.1 % is every day's.
func TestMovingIsNotPassed(t *testing.T) {
	const cycles = 120
	for text, capacitor := range map[string]func(i int) float64{
		"The period drifts inside the capture by (0.9":            func(i int) float64 { return 1 + 0.01*float64(i)/cycles },
		"The period wanders or warms up inside the capture by 1.": func(i int) float64 { return 1 - 0.02*math.Exp(-float64(i)/20) },
		"On target": func(i int) float64 { return 1 + 0.001*float64(i)/cycles },
	} {
		m := jumping(t, cycles, capacitor)
		d := design("astable")
		d.Targets = []fit.Target{{Quantity: "period", Low: 0.8 * m.Period().Value, High: 1.2 * m.Period().Value}}
		f, _, err := Solve(d, []*fit.Measurement{m})
		if err != nil {
			t.Fatal(err)
		}
		passes := text == "On target"
		if !strings.HasPrefix(f.Finding, text) || (f.Verdict.Result == verdict.Pass) != passes || strings.Contains(VerdictText(&f.Verdict), "too close") || (f.Next[0].Reading == settle.Reading) == passes {
			t.Errorf("%+v %q, next %q; want %q", f.Verdict, f.Finding, f.Next[0].Reading, text)
		}
		if mv := m.Moves; strings.Contains(text, "drifts") && !(math.Abs(mv.By-0.01*(cycles-1)/cycles) <= 5*mv.Uncertainty+1e-4) {
			t.Errorf("drifts by %+v", mv)
		}
	}
}

// A small jump that may as well be a drift leads as both, with its probability; each stretch is solved, none passes, and JSON tells no
// change for sure.
func TestJumpOrDriftIsNotPassed(t *testing.T) {
	m := jumping(t, 80, func(i int) float64 { return 1 + 0.01*float64(i/40) })
	if len(m.Changes) != 1 {
		t.Fatalf("changes %v", m.Changes)
	}
	m.Moves = fit.Moves{By: m.Changes[0].By, Uncertainty: 1e-3, Jumps: 0.8, At: m.Changes[0].Time}
	d := design("astable")
	d.Targets = []fit.Target{{Quantity: "period", Low: 0.8 * m.Period().Value, High: 1.2 * m.Period().Value}}
	f := run(t, d, m)
	if f.Verdict.Result != verdict.Undecided || len(f.Stretches) != 2 || !strings.HasPrefix(f.Finding, "Intermittent or drifting: the period changes inside the capture by ") || !strings.Contains(f.Finding, "(80 %) or a slow drift (20 %)") {
		t.Errorf("%+v, %d stretches, %q", f.Verdict, len(f.Stretches), f.Finding)
	}
	if s := course.Of(m, nil, 2e-5); s.Changes != nil || s.Moves.Jumps != 0.8 || !s.Drift.Told() {
		t.Errorf("%+v", s)
	}
}

// A board that leaves out pulses, or stops, is not passed, though its times are right, and the answer leads with that.
func TestLackingIsNeverPassed(t *testing.T) {
	for _, c := range []struct {
		moves fit.Moves
		want  string
	}{
		{fit.Moves{Stops: 0.2}, "The output stops inside the capture, no pulse in its last 200 ms (cut the record there if something gates it). Not passed"},
		{fit.Moves{Missing: 6}, "6 pulses missing inside the capture, each where one was due. Not passed"},
	} {
		m := integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5})
		m.Moves = c.moves
		d := design("astable")
		d.Targets = []fit.Target{{Quantity: "period", Low: 0.8 * m.Period().Value, High: 1.2 * m.Period().Value}}
		f := run(t, d, m)
		if f.Verdict.Result != verdict.Undecided || !strings.HasPrefix(f.Finding, c.want) || !strings.Contains(f.Finding, "While it runs: nothing wrong") || !strings.HasPrefix(f.Next[0].Reading, "Capture again while you tap") {
			t.Errorf("%s %q %+v", f.Verdict.Result, f.Finding, f.Next[0])
		}
	}
}

// Of many changes the first three are told in the answer; the table has them all.
func TestManyChangesAreCounted(t *testing.T) {
	at := []int{31, 50, 113, 171, 199, 290, 322} // as a contact comes and goes: in no order
	m := jumping(t, 360, func(i int) float64 {
		past := 0
		for _, k := range at {
			if i >= k {
				past++
			}
		}
		return 1 + 0.03*float64(past&1)
	})
	f := run(t, design("astable"), m)
	if n := len(m.Changes); n < 6 || strings.Count(f.Finding, "from") != 3 || !strings.Contains(f.Finding, fmt.Sprintf("and %d times more", n-3)) || len(f.Stretches) != n+1 {
		t.Errorf("%d changes: %q, %d stretches", n, f.Finding, len(f.Stretches))
	}
}
