package posterior

import (
	"context"
	"errors"
	"math"
	"reflect"
	"sync/atomic"
	"testing"

	"offbeat/fit/circuit"
)

// bench is an ideal astable with the times of the given parts.
func bench(t *testing.T, r1, r2, c, relative float64) *Problem {
	t.Helper()
	k, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	v := circuit.Ideal(5)
	v[0], v[1], v[2] = 10e3, 47e3, 100e-9
	u := relative * relative
	return &Problem{Circuit: k, Base: v, Data: []Datum{{LnHigh: math.Log(math.Ln2 * (r1 + r2) * c), LnLow: math.Log(math.Ln2 * r2 * c), High: u, Low: u}}}
}

func tolerance(r1, r2, c float64) []Density {
	return []Density{UniformValue(10e3*(1-r1), 10e3*(1+r1)), UniformValue(47e3*(1-r2), 47e3*(1+r2)), UniformValue(100e-9*(1-c), 100e-9*(1+c))}
}

// With noise far narrower than every tolerance the evidence is a one-dimensional integral along the ridge
// R1 = a/C, R2 = b/C, done here by plain quadrature over C (the change of variables from (R1, R2) to the
// logarithms of the times has the Jacobian (R1+R2) R2 at fixed C).
func TestEvidenceAlongTheRidge(t *testing.T) {
	for _, tol := range [][3]float64{{0.01, 0.01, 0.1}, {0.05, 0.05, 0.02}, {0.001, 0.01, 0.2}, {0.1, 0.001, 0.05}} {
		const r1, r2, c = 10020, 47010, 100.7e-9
		p := bench(t, r1, r2, c, 1e-6)
		r, err := Run(p, []Hypothesis{{Odds: 1, Prior: tolerance(tol[0], tol[1], tol[2])}})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		const n = 400000
		lo, hi := 100e-9*(1-tol[2]), 100e-9*(1+tol[2])
		for i := range n {
			x := lo + (hi-lo)*(float64(i)+0.5)/n
			a, b := r1*c/x, r2*c/x
			if math.Abs(a/10e3-1) <= tol[0] && math.Abs(b/47e3-1) <= tol[1] {
				sum += (a + b) * b / n / (20e3 * tol[0]) / (94e3 * tol[1])
			}
		}
		if got, want := r.Outcomes[0].LogEvidence, math.Log(sum); !(math.Abs(got-want) <= 0.01) {
			t.Errorf("tolerances %v: log evidence %.4f, want %.4f", tol, got, want)
		}
	}
}

// The whole run repeats to the last bit, whatever the scheduler does.
func TestRepeatable(t *testing.T) {
	hs := []Hypothesis{{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}, {Odds: 0.1, Prior: tolerance(0.01, 0.01, 0.1)}, {Odds: 0.01, Prior: tolerance(0.01, 0.01, 0.1), Unexplained: true, Misfit: []Misfit{{Share: 1, High: 1, Low: 1}}}}
	hs[1].Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	first, err := Run(bench(t, 10e3, 47e3, 109.9e-9, 1e-4), hs)
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		again, err := Run(bench(t, 10e3, 47e3, 109.9e-9, 1e-4), hs)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(first, again) {
			t.Fatal("a second run differs")
		}
	}
}

// The samples reproduce the times they were solved from, and their weights sum to one.
func TestSamplesMeetTheTimes(t *testing.T) {
	p := bench(t, 10e3, 47e3, 118e-9, 1e-5)
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	h.Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	r, err := Run(p, []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, s := range r.Samples {
		high, low, ok := p.Circuit.Times(s.Values)
		if !ok || !(math.Abs(math.Log(high)-p.Data[0].LnHigh) <= 7e-5) || !(math.Abs(math.Log(low)-p.Data[0].LnLow) <= 7e-5) {
			t.Fatalf("a sample has times %v %v, seven standard deviations off", high, low)
		}
		sum += s.Weight
	}
	if !(math.Abs(sum-1) <= 1e-6) {
		t.Errorf("weights sum to %v", sum)
	}
}

// A capacitor shifted to a tenth lies nine mean excesses out, and is still its prior's to explain.
func TestFarTail(t *testing.T) {
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	h.Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	r, err := Run(bench(t, 10e3, 47e3, 8.9e-9, 1e-4), []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status.Impossible {
		t.Error("a capacitor of 8.9 nF is called impossible")
	}
}

// Times 2.7 standard deviations beyond the corner R1 - 1 %, R2 + 1 % are rare but possible.
func TestCornerIsNoContradiction(t *testing.T) {
	p := bench(t, 9900.4, 47469.3, 39.3e-9, 1e-4)
	p.Data[0].LnHigh, p.Data[0].LnLow = math.Log(1.56367660e-3), math.Log(1.29432791e-3)
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	h.Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	r, err := Run(p, []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status.Impossible || !(math.Abs(r.Outcomes[0].Probability-1) <= 1e-9) {
		t.Errorf("the only possible cause got %+v", r.Outcomes[0])
	}
}

func TestContradiction(t *testing.T) {
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	h.Prior[0] = h.Prior[0].Window(math.Log(20e3), math.Log(21e3)) // a reading far outside every prior
	r, err := Run(bench(t, 10e3, 47e3, 100e-9, 1e-4), []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	if !r.Status.Impossible || len(r.Samples) != 0 {
		t.Errorf("a contradictory reading gave %+v", r.Outcomes)
	}
	if _, err := Run(bench(t, 10e3, 47e3, 100e-9, 1e-4), nil); err == nil {
		t.Error("no hypotheses, no error")
	}
}

// Two captures of one board are worth one capture of half the variance, since the noise is independent.
func TestTwoCapturesAddUp(t *testing.T) {
	h := []Hypothesis{{Odds: 1, Prior: tolerance(0.05, 0.05, 0.1)}, {Odds: 1, Prior: tolerance(0.05, 0.05, 0.1)}}
	h[1].Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	one := bench(t, 10.2e3, 47e3, 109e-9, 1e-2)
	two := bench(t, 10.2e3, 47e3, 109e-9, 1e-2)
	two.Data = append(two.Data, two.Data[0])
	for i := range one.Data {
		one.Data[i].High /= 2
		one.Data[i].Low /= 2
	}
	a, err := Run(one, h)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Run(two, h)
	if err != nil {
		t.Fatal(err)
	}
	if d := math.Abs(a.Outcomes[1].Probability - b.Outcomes[1].Probability); d > 0.01 {
		t.Errorf("one precise capture says %.4f, two plain ones %.4f", a.Outcomes[1].Probability, b.Outcomes[1].Probability)
	}
}

// A lattice is refined by the points that it lacks: the cloud, weights and all, is that of the fine lattice from the start.
func TestRefinedLatticeIsTheFineOne(t *testing.T) {
	p := bench(t, 10.1e3, 47e3, 104e-9, 1e-4)
	h := Hypothesis{Odds: 1, Prior: tolerance(0.02, 0.02, 0.1)}
	var logs [2][]float64
	var evals [2]int
	for i, sizes := range [][]int{{apart / 2}, {8, 16, apart / 2}} {
		s := newSystem(p, &h)
		if !s.choosePivots() {
			t.Fatal("no pivots")
		}
		s.evals = 0
		for _, n := range sizes {
			s.run(unitBox(len(s.free)), n)
		}
		logs[i], evals[i] = s.cloud.log, s.evals
		if e := s.summarise(&s.cloud); e.effective < 50 {
			t.Fatalf("effective sample size %.1f: nothing to compare", e.effective)
		}
	}
	if !reflect.DeepEqual(logs[0], logs[1]) {
		t.Error("the refined cloud is another than the fine one")
	}
	if evals[1] != evals[0] {
		t.Errorf("%d evaluations to refine, %d at once: expected as many", evals[1], evals[0])
	}
}

// A weak switch beside a large R2 runs in a sixtieth of its prior only, and where depends on the resistors: no one place
// to start from runs for all of them. The evidence is an integral over R1 and R2, done here by the midpoint rule, with the
// switch by bisection of the ratio of the times and C1 by their scale. (The determinant is by differences: the times' ratio
// turns with the switch alone, their scale with C1 alone, one to one.)
func TestNoSolutionIsLostToItsStart(t *testing.T) {
	k, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	at := func(r1, r2, c, weak float64) (high, low float64, ok bool) {
		v := circuit.Ideal(5)
		v[0], v[1], v[2], v[circuit.WeakRatio] = r1, r2, c, weak
		return k.Times(&v)
	}
	const r1, r2, c, u = 13e3, 510e3, 910e-9, 1e-6
	high, low, _ := at(r1, r2, c, 0.0126)
	p := &Problem{Circuit: k, Base: circuit.Ideal(5), Data: []Datum{{LnHigh: math.Log(high), LnLow: math.Log(low), High: u * u, Low: u * u}}}
	from, to := math.Log(0.01), 0.0
	h := Hypothesis{Odds: 1,
		Prior:    []Density{UniformValue(r1*0.9, r1*1.1), UniformValue(r2*0.98, r2*1.02), UniformValue(c*0.8, c*1.2)},
		Override: []Variable{{Slot: circuit.WeakRatio, Log: true, Density: Uniform(from, to)}}}
	r, err := Run(p, []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	ratio := func(a, b, x float64) (float64, bool) { // ln(low/high): it rises without end towards a switch too weak to run
		hi, lo, ok := at(a, b, c, math.Exp(x))
		return math.Log(lo / hi), ok
	}
	want, sum := math.Log(low/high), 0.0
	const n = 100
	for i := range n {
		a := r1 * (0.9 + 0.2*(float64(i)+0.5)/n)
		for j := range n {
			b := r2 * (0.98 + 0.04*(float64(j)+0.5)/n)
			x, y := from, to
			if g, ok := ratio(a, b, x); !ok || g > want {
				continue
			}
			for y-x > 1e-12 {
				m := (x + y) / 2
				if g, ok := ratio(a, b, m); ok && g < want {
					x = m
				} else {
					y = m
				}
			}
			hi, _, _ := at(a, b, c, math.Exp(x))
			// ln C of the scale lies within its prior, uniform in C.
			scale := high / hi
			if scale < 0.8 || scale > 1.2 {
				continue
			}
			g0, _ := ratio(a, b, x-1e-6)
			g1, ok := ratio(a, b, x+1e-6)
			if !ok {
				continue
			}
			sum += scale / 0.4 / (to - from) / ((g1 - g0) / 2e-6) / n / n
		}
	}
	if got := r.Outcomes[0].LogEvidence; !(math.Abs(got-math.Log(sum)) <= 0.01) {
		t.Errorf("log evidence %.4f, want %.4f", got, math.Log(sum))
	}
}

// A likely hypothesis is computed again until enough of its points count for an interval, an open one until its
// probability is sharp; what is neither stays as it is.
func TestRefineOnlyWhatNeedsIt(t *testing.T) {
	for _, c := range []struct {
		name                       string
		share, effective, relative float64
		want                       int
	}{
		{"sure, few points count", 1, plenty / 2.8, 0.06, 4 * 128},
		{"sure, enough count", 1, plenty, 0.06, 0},
		{"open, not sharp", 0.5, 2 * plenty, 5 * sharp, 2 * 128},
		{"open, sharp", 0.5, 2 * plenty, 3 * sharp, 0},
		{"unlikely", 0.01, 20, 0.2, 0},
	} {
		points := make([]int, 2) // and one that is impossible
		k := &contest{share: []float64{c.share, 0}, estimates: []estimate{{points: replicates * 128, effective: c.effective, relative: c.relative}, {effective: 1}}}
		if more := k.refine(points); points[0] != c.want || more != (c.want > 0) {
			t.Errorf("%s: %d points a replicate (more: %v), want %d", c.name, points[0], more, c.want)
		}
	}
}

// Of a lone hypothesis, which is sure, only the spread is asked for: fewer points do than of one that is open.
func TestLoneHypothesisIsSure(t *testing.T) {
	h := Hypothesis{Odds: 1, Prior: tolerance(0.05, 0.05, 0.2)}
	one, err := Run(bench(t, 10e3, 47e3, 104e-9, 1e-2), []Hypothesis{h})
	if err != nil {
		t.Fatal(err)
	}
	two, err := Run(bench(t, 10e3, 47e3, 104e-9, 1e-2), []Hypothesis{h, h})
	if err != nil {
		t.Fatal(err)
	}
	if a, b := one.Outcomes[0], two.Outcomes[0]; a.Points >= b.Points || a.Probability != 1 || !(math.Abs(b.Probability-0.5) <= 0.01) {
		t.Errorf("alone %+v, beside its like %+v", a, b)
	}
}

// A run whose context ends is left soon, wherever it has come to.
func TestEndsWithItsContext(t *testing.T) {
	hs := []Hypothesis{{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}, {Odds: 0.1, Prior: tolerance(0.01, 0.01, 0.1)}}
	hs[1].Prior[2] = OutsideValue(90e-9, 110e-9, 0.25, 0.5)
	run := func(last int64) (evals int64, err error) {
		ctx, end := context.WithCancel(t.Context())
		defer end()
		var n atomic.Int64
		p := bench(t, 10e3, 47e3, 109.9e-9, 1e-4)
		p.Context = ctx
		p.Data[0].Adjust = func(*circuit.Values, []float64) {
			if n.Add(1) == last {
				end()
			}
		}
		_, err = Run(p, hs)
		return n.Load(), err
	}
	all, err := run(-1)
	if err != nil {
		t.Fatal(err)
	}
	for _, last := range []int64{1, all / 10, all / 2} {
		if n, err := run(last); !errors.Is(err, context.Canceled) || n > last+all*4/10 {
			t.Errorf("ended at evaluation %d of %d, it went on to %d: %v", last, all, n, err)
		}
	}
}
