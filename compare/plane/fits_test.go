package plane_test

import (
	"math"
	"testing"

	"offbeat/compare/cause"
	"offbeat/compare/plane"
	"offbeat/compare/report/reporttest"
)

// The likeliest cause predicts the capture that it was found from to within its noise; a capture that is ten standard
// uncertainties longer is missed by ten.
func TestFitsOf(t *testing.T) {
	b := reporttest.LampBasis(t)
	times, fits := plane.FitsOf(b.Finding, b.Evidence, 5)
	if len(times) != 2 || !times[1].Low || len(fits) < 2 || fits[0].Probability != b.Finding.Causes[0].Probability {
		t.Fatalf("%d times, %d causes", len(times), len(fits))
	}
	for _, f := range fits {
		for i, m := range f.Misses {
			if math.Abs(m.Median) > 1 || m.Low < -3.5 || m.High > 3.5 || m.Low > m.Median || m.High < m.Median {
				t.Errorf("%s, time %d: %+v", f.Name, i, m)
			}
		}
	}
	before := fits[0].Misses[0].Median
	d := &b.Evidence.Problem.Data[0]
	old := d.LnHigh
	defer func() { d.LnHigh = old }()
	d.LnHigh += 10 * times[0].Uncertainty
	if _, fits = plane.FitsOf(b.Finding, b.Evidence, 5); math.Abs(fits[0].Misses[0].Median-before+10) > 1e-6 {
		t.Errorf("missed by %g, want %g", fits[0].Misses[0].Median, before-10)
	}
}

// A cause's number is its design's, whatever was measured: the likeliest first or last, it is the same.
func TestNumbers(t *testing.T) {
	b := reporttest.LampBasis(t)
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
