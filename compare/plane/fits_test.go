package plane_test

import (
	"math"
	"testing"

	"offbeat/compare/cause"
	"offbeat/compare/plane"
	"offbeat/fit/circuit"
)

// The likeliest cause predicts the capture that it was found from to within its noise; a capture that is ten standard
// uncertainties longer is missed by ten.
func TestFitsOf(t *testing.T) {
	b := lamp(t)
	times, fits, alone := plane.FitsOf(b.Evidence, 5)
	if alone || len(times) != 2 || !times[1].Low || len(fits) < 2 || !(math.Abs(fits[0].Probability-b.Finding.Causes[0].Probability) <= 1e-9) {
		t.Fatalf("%d times, %d causes", len(times), len(fits))
	}
	for _, f := range fits {
		for i, m := range f.Misses {
			if !(math.Abs(m.Median) <= 1) || m.Low < -3.5 || m.High > 3.5 || m.Low > m.Median || m.High < m.Median {
				t.Errorf("%s, time %d: %+v", f.Name, i, m)
			}
		}
	}
	before := fits[0].Misses[0].Median
	d := &b.Evidence.Problem.Data[0]
	old := d.LnHigh
	defer func() { d.LnHigh = old }()
	d.LnHigh += 10 * times[0].Uncertainty
	if _, fits, _ = plane.FitsOf(b.Evidence, 5); !(math.Abs(fits[0].Misses[0].Median-before+10) <= 1e-6) {
		t.Errorf("missed by %g, want %g", fits[0].Misses[0].Median, before-10)
	}
}

// Two captures that no board makes: each cause then meets the first and misses the second, by what that one is off.
func TestFitsOfAContradiction(t *testing.T) {
	e := *lamp(t).Evidence
	p := *e.Problem
	other := p.Data[0]
	u := math.Sqrt(other.High)
	other.LnHigh += 50 * u
	p.Data = append(p.Data[:1:1], other)
	none := *e.Result
	none.Samples = nil // as where their evidence is zero
	e.Problem, e.Result = &p, &none
	times, fits, alone := plane.FitsOf(&e, 5)
	if !alone || len(times) != 4 || len(fits) < 2 {
		t.Fatalf("alone %v, %d times, %d causes", alone, len(times), len(fits))
	}
	for _, f := range fits {
		if m := f.Misses; !(math.Abs(m[0].Median) <= 1) || !(math.Abs(m[2].Median+50) <= 1) || !(math.Abs(m[3].Median) <= 1) {
			t.Errorf("%s: %+v", f.Name, m)
		}
	}
}

// A capture taken with half of C1 added is predicted with it: its times are half as long again.
func TestFitsOfTakesConditionsIn(t *testing.T) {
	e := *lamp(t).Evidence
	p := *e.Problem
	with := p.Data[0]
	with.LnHigh, with.LnLow = with.LnHigh+math.Log(1.5), with.LnLow+math.Log(1.5)
	with.Adjust = func(v *circuit.Values, _ []float64) { v[2] *= 1.5 }
	p.Data = append(p.Data[:1:1], with)
	e.Problem = &p
	_, fits, _ := plane.FitsOf(&e, 5)
	for _, m := range fits[0].Misses {
		if !(math.Abs(m.Median) <= 1) {
			t.Errorf("%+v", m)
		}
	}
}

// A cause's number is its design's, whatever was measured: the likeliest first or last, it is the same.
func TestNumbers(t *testing.T) {
	b := lamp(t)
	numbers := plane.Numbers(b.Evidence.Board.Cases())
	seen := map[int]bool{}
	for _, k := range plane.Of(b.Finding, b.Evidence).Curves {
		if k.Number != numbers[k.Name] || k.Number > 0 && seen[k.Number] {
			t.Errorf("%s has number %d", k.Name, k.Number)
		}
		seen[k.Number] = true
	}
	if numbers[cause.Curve("nothing", nil)] != 1 || numbers["other values"] != 0 || len(seen) < 6 {
		t.Errorf("numbers %v", numbers)
	}
}
