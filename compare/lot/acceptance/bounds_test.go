package acceptance

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// A plan that is found by the number inspected rejects at one more than it accepts, and what is no plan is refused by name.
func TestPlansAreWhole(t *testing.T) {
	for _, i := range Inspections {
		for _, inspected := range []int{1, 8, 80, 2000} {
			p, err := BySample(inspected, i, 1.0)
			if err != nil || p.Reject != p.Accept+1 || p.Letter == "" || p.Inspection != i {
				t.Errorf("%s, %d: %+v %v", i, inspected, p, err)
			}
		}
		if _, err := BySample(80, i, 0.9); err == nil || !strings.Contains(err.Error(), "AQL of 0.9 %") {
			t.Errorf("AQL of 0.9: %v", err)
		}
	}
	if _, err := BySample(80, "loose", 1.0); err == nil {
		t.Error("an inspection of no standard is taken")
	}
	if _, err := byLetter("J", "loose", 1.0); err == nil {
		t.Error("an inspection of no standard is taken by letter")
	}
	// Table 2-A: J has a plan of its own at an AQL of 1.0; at 0.10 its arrow leads up to K, and from H at 0.40 down or up too.
	for _, c := range []struct {
		letter, used string
		aql          float64
	}{{"J", "", 1.0}, {"J", "K", 0.10}} {
		p, err := byLetter(c.letter, Normal, c.aql)
		if err != nil || strings.Contains(p.How, "arrow") != (c.used != "") || c.used != "" && p.Letter != c.used {
			t.Errorf("%s at %g: %+v %v", c.letter, c.aql, p, err)
		}
	}
}

// The plan one AQL step tighter is there from the second AQL on, with an acceptance number of zero too (ISO 2859-1 9.3.3.2).
func TestTighter(t *testing.T) {
	found := 0
	for i, aql := range AQLs {
		for row, letter := range letters[:len(letters)-1] {
			p := Plan{Letter: string(letter), AQL: aql}
			ac, ok := p.tighter()
			if i == 0 {
				if ok {
					t.Errorf("%c: there is a plan tighter than the tightest", letter)
				}
				continue
			}
			if cell := severities[Normal].at(row, i-1); ok != (cell >= 0) || ok && ac != cell {
				t.Errorf("%c at %g: %d %v, the table has %d", letter, aql, ac, ok, cell)
			}
			if ok && ac == 0 {
				found++
			}
		}
	}
	if found == 0 {
		t.Error("no plan with an acceptance number of zero was met")
	}
}

// Both ways to count an open verdict stand in the reason.
func TestReasonCounts(t *testing.T) {
	p := Plan{Size: 80, Accept: 2, Reject: 3}
	if r, why := p.Decide(Tally{Inspected: 80, Nonconforming: 1, Unknown: 1}); r != Accept || !strings.HasPrefix(why, "2 nonconforming") {
		t.Errorf("%s: %s", r, why)
	}
}

// TestVariablesBounds judges on the limits themselves, and mirrored: a lot and its mirror image are judged alike.
func TestVariablesBounds(t *testing.T) {
	p, _ := VariablesBySample(20, Normal, 1.0)
	inf := math.Inf(1)
	for _, c := range []struct {
		mean, low, high float64
		a, b            float64 // quality indexes
	}{{5, 1, inf, 2, inf}, {5, -inf, 8, inf, 1.5}, {5, 1, 12, 2, 3.5}, {5, 2, 8, 1.5, 1.5}} {
		r := p.Decide(20, c.mean, 2, c.low, c.high)
		if r.Low != c.a || r.High != c.b {
			t.Errorf("%+v: quality indexes %g and %g", c, r.Low, r.High)
		}
		m := p.Decide(20, -c.mean, 2, -c.high, -c.low)
		if m.Result != r.Result || m.Low != r.High || m.High != r.Low || !scalar.EqualWithinRel(m.Nonconforming, r.Nonconforming, 1e-12) || m.Reason != r.Reason {
			t.Errorf("%+v mirrored: %+v", r, m)
		}
		if want := Nonconforming(c.a, 20) + Nonconforming(c.b, 20); r.Nonconforming != want {
			t.Errorf("%+v: %g nonconforming, want %g", c, r.Nonconforming, want)
		}
		by := strings.HasPrefix(r.Reason, "quality index")
		if one := math.IsInf(c.low, -1) || math.IsInf(c.high, 1); by != one {
			t.Errorf("%+v is judged as %s", c, r.Reason)
		}
		exact := p
		if exact.K, exact.M = min(c.a, c.b), r.Nonconforming; exact.Decide(20, c.mean, 2, c.low, c.high).Result != Accept {
			t.Errorf("%+v: on the limit it is not accepted", c)
		}
		if exact.K, exact.M = math.Nextafter(exact.K, 9), math.Nextafter(exact.M, 0); exact.Decide(20, c.mean, 2, c.low, c.high).Result != Reject {
			t.Errorf("%+v: beyond the limit it is not rejected", c)
		}
	}
	if r := p.Decide(20, 5, 2, 2, 8); !strings.HasPrefix(r.Reason, "estimated 12.7 %") || !strings.Contains(r.Reason, "at most 2.93 %") { // twice 6.36 %
		t.Error(r.Reason)
	}
	for _, size := range []int{7, 20, 50} {
		p, err := VariablesBySample(size, Normal, 1.0)
		if err != nil {
			t.Fatal(err)
		}
		if arrow := strings.Contains(p.How, "arrow"); arrow {
			t.Errorf("%d: %s", size, p.How)
		}
	}
	for n, want := range map[int]Result{19: Undecided, 20: Accept} {
		if got := p.Decide(n, 5, 0.1, 1, 9).Result; got != want {
			t.Errorf("%d of 20: %s", n, got)
		}
	}
}

// The chance of acceptance is one at no nonconforming item, nought at nothing but such, and between them in between.
func TestEndsOfCurves(t *testing.T) {
	v, _ := VariablesBySample(20, Normal, 1.0)
	for _, p := range []accepter{Plan{Size: 80, Accept: 2}, Plan{Size: 3, Accept: 1}, v} {
		if p.Probability(0) != 1 || p.Probability(-0.1) != 1 || p.Probability(1) != 0 || p.Probability(1.1) != 0 {
			t.Errorf("%+v: %g and %g", p, p.Probability(0), p.Probability(1))
		}
		if low, high := p.Probability(1e-6), p.Probability(1-1e-6); !(low > 0.999 && low <= 1 && high >= 0 && high < 1e-4) {
			t.Errorf("%+v: %g and %g near the ends", p, low, high)
		}
	}
	whole := Plan{All: true, LotSize: 10, Accept: 1}
	for fraction, want := range map[float64]float64{0: 1, 0.1: 1, 0.14: 1, 0.16: 0, 0.2: 0} {
		if got := whole.Probability(fraction); got != want {
			t.Errorf("a lot of ten, inspected whole, %g nonconforming: %g", fraction, got)
		}
	}
	if p := (Plan{Size: 2, Accept: 2}); p.Probability(1) != 1 || p.Probability(0.5) != 1 {
		t.Errorf("a plan that accepts all: %g", p.Probability(1))
	}
	c := Characteristic(Plan{Size: 80, Accept: 2}, 5)
	for i, f := range c.Fraction {
		if want := c.Fraction[4] * float64(i) / 4; !scalar.EqualWithinAbs(f, want, 1e-15) {
			t.Errorf("point %d at %g, want %g", i, f, want)
		}
	}
}
