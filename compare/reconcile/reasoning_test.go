package reconcile

import (
	"math"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/posterior"
)

// The reasoning names the likeliest cause, its rival, and the numbers both rest on.
func TestReasoning(t *testing.T) {
	for _, c := range []struct {
		n    fittest.Network
		says []string
	}{
		{fittest.Network{R1: 10e3, R2: 47e3, C: 127e-9}, []string{"above what most sound boards make", "have changed alike", "C1 out of tolerance against", "prior odds", "Excluded", "others"}},
		{fittest.Network{R1: 12.4e3, R2: 47e3, C: 100e-9}, []string{"have not changed alike", "R1 out of tolerance against"}},
		{fittest.Network{R1: 10e3, R2: 47e3, C: 100e-9}, []string{"inside what most sound boards make", "Nothing wrong"}},
	} {
		c.n.Circuit, c.n.Supply = "astable", 5
		f := run(t, design("astable"), integrate(t, c.n))
		for _, s := range c.says {
			if !strings.Contains(f.Reasoning, s) {
				t.Errorf("%q is not in %q", s, f.Reasoning)
			}
		}
		if strings.Contains(f.Reasoning, "%!") || strings.Contains(f.Reasoning, "e+") {
			t.Errorf("unreadable: %q", f.Reasoning)
		}
	}
}

// The factor between two probabilities is the product of the two that the reasoning states.
func TestRivalsAddUp(t *testing.T) {
	f := &compare.Finding{Causes: []compare.Cause{{Cause: "leakage", Detail: "a", Probability: 0.9, PriorOdds: 0.01}, {Cause: "clock", Detail: "b", Probability: 0.03, PriorOdds: 0.005}}}
	text := strings.Join((&solved{result: &posterior.Result{}}).rivalReason(f), " ")
	if !strings.Contains(text, "prior odds 2 : 1") || !strings.Contains(text, "fit 15 : 1") {
		t.Errorf("30 = 2 x 15, but %q", text)
	}
}

// Times that no such circuit has are said so, with the likely reason, and no part is blamed.
func TestImpossibleTimes(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5}
	m := integrate(t, n)
	m.High, m.Low = m.Low, m.High
	f := run(t, design("astable"), m)
	if f.Causes[0].Cause != cause.WrongSignal || f.Verdict.Result != verdict.None && f.Verdict.Result != verdict.Undecided || !strings.Contains(f.Finding, "--invert") {
		t.Errorf("an inverted channel: %s", f.Finding)
	}
	for _, by := range []float64{1000, 1.5e-3} { // the second with what a slow device and strays add to the design's
		m = integrate(t, n)
		m.TimeUnit = map[bool]string{true: "us", false: "ms"}[by < 1]
		for _, e := range []*fit.Estimate{&m.High, &m.Low} {
			e.Value, e.Uncertainty = e.Value*by, e.Uncertainty*by
		}
		if f = run(t, design("astable"), m); by < 1 {
			continue
		}
		if f.Causes[0].Cause != cause.WrongSignal || f.Causes[0].Probability < 0.5 || f.Next[0].Reading != seeUnits.Reading || !strings.Contains(f.Finding, "(--time-unit us; it was read in ms)") || strings.Contains(f.Finding, "If units") || len(f.Next) > 1 && f.Next[1].Reading == seeUnits.Reading {
			t.Errorf("%g times too long: %q %q", by, f.Finding, f.Next[0].Reading)
		}
	}
	if f.Next[0].Reading != seeUnits.Reading || !strings.Contains(f.Finding, " If units and prefixes are right: ") || strings.Count(strings.Join(f.Answer, " "), "(--time-unit ms; it was read in us), or a prefix") != 1 {
		t.Errorf("strays: %q", f.Finding)
	}
}

// A reading, or a capture, that contradicts everything else is found by leaving it out.
func TestContradictionIsFound(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10.02e3, R2: 47.1e3, C: 100e-9, Supply: 5}
	d := design("astable")
	d.Odds = map[string]float64{"two_shifted": 0}
	d.Readings = []fit.Reading{{Name: "R1", Value: 10.02e3, Half: 30}, {Name: "R2", Value: 47.1e3, Half: 100}, {Name: "C1", Value: 140e-9, Half: 1e-9}}
	f := run(t, d, integrate(t, n))
	if all := strings.Join(f.Warnings, " "); !strings.Contains(all, "the reading of C1 contradicts") || strings.Contains(all, "the reading of R1 contradicts") || strings.Contains(all, "the reading of R2 contradicts") {
		t.Errorf("a misread capacitor: %s %q", f.Finding, f.Warnings)
	}
	d.Readings = nil
	first := question.Observation{Measurement: integrate(t, n)}
	n.C += 100e-9
	wrong := condition(fit.InParallel, "C1", 100e-9, 0.01)
	wrong.Text = "C1 || 100n ± 1 %"
	n.C -= 53e-9 // what was really added is a 47n
	second := question.Observation{Measurement: integrate(t, n), Conditions: []fit.Condition{wrong}}
	n.C = 100e-9
	n.R1 = 10.02e3 * 22e3 / 32.02e3
	right := condition(fit.InParallel, "R1", 22e3, 0.01)
	third := question.Observation{Measurement: integrate(t, n), Conditions: []fit.Condition{right}}
	f = runWith(t, d, first, second, third)
	if all := strings.Join(f.Warnings, " "); !strings.Contains(all, wrong.Text+" contradict the rest") {
		t.Errorf("a wrong known part: %s %q", f.Finding, f.Warnings)
	}
}

// Captures of two boards under one name are no measurement of either: the finding says so first, and each kind is solved by itself. Those that
// differ by less than warmth and supply make go together, wider.
func TestDisagreeingCaptures(t *testing.T) {
	n := fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5}
	at := func(c float64, source string) *fit.Measurement {
		n.C = c
		m := integrate(t, n)
		m.Source = source
		return m
	}
	d := design("astable")
	d.Targets = []fit.Target{{Quantity: "frequency", Value: 138, Low: 125, High: 151}}
	a, odd, near := at(100e-9, "lamp-1.csv"), at(122e-9, "lamp-2.csv"), at(101e-9, "lamp-3.csv")
	f := run(t, d, a, odd, near)
	if !strings.HasPrefix(f.Finding, "The captures disagree") || len(f.Stretches) != 2 {
		t.Fatalf("%s %+v", f.Finding, f.Stretches)
	}
	alone, alike := run(t, d, odd), run(t, d, a, near)
	for i, want := range []*compare.Finding{alike, alone} {
		if s := f.Stretches[i]; s.Measured.Period.Value != want.Measured.Period.Value || s.Cause.Cause != want.Causes[0].Cause || !(math.Abs(s.Cause.Probability-want.Causes[0].Probability) <= 0.01) {
			t.Errorf("%v: %+v, by itself %+v", s.Captures, s.Cause, want.Causes[0])
		}
	}
	if f.Verdict.Result != alone.Verdict.Result || alike.Verdict.Result == alone.Verdict.Result || f.Measured.Period.Value != alike.Measured.Period.Value {
		t.Errorf("%s, alone %s, those alike %s", f.Verdict.Result, alone.Verdict.Result, alike.Verdict.Result)
	}
	if len(alike.Stretches) > 0 || !strings.HasPrefix(alike.Finding, "The captures disagree") || !strings.Contains(strings.Join(alike.Answer, " "), "The captures disagree") || !strings.Contains(strings.Join(alike.Warnings, " "), "lamp-1.csv, lamp-3.csv") {
		t.Errorf("%s %q", alike.Finding, alike.Warnings)
	}
	if u := alike.Measured.Period.Uncertainty / alike.Measured.Period.Value; u < 0.0025 {
		t.Errorf("two periods 1 %% apart give one with an uncertainty of %v", u)
	}
}
