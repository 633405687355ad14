package posterior

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

func logDensity(m Misfit, data []Datum, times []float64) float64 {
	f := m.about(data)
	return f.logDensity(times)
}

// A misfit is normal about the predicted times, captures independent: the quadratic form and the determinant by dense matrices; of a
// single pulse the high time alone, of a settled capture nothing.
func TestMisfitIsNormal(t *testing.T) {
	m := Misfit{Share: 0.3, High: 0.5, Low: 0.2, Both: 0.4}
	data := []Datum{
		{LnHigh: -5, LnLow: -6, High: 0.01, Low: 0.02, Covariance: 0.005},
		{LnHigh: -4, High: 0.03, OnePulse: true},
		{LnHigh: -7, LnLow: -8, High: 0.01, Low: 0.01, Settled: true},
		{LnHigh: -3, LnLow: -2, High: 0.02, Low: 0.04, Covariance: -0.01},
	}
	times := []float64{-4.6, -6.1, -3.9, -7.1, -8.2, -3.3, -1.5}
	about := func(shift [2]float64) float64 {
		want := math.Log(m.Share)
		for _, c := range []struct {
			d    Datum
			x, y float64
		}{{data[0], -4.6, -6.1}, {data[3], -3.3, -1.5}} {
			v := mat.NewSymDense(2, []float64{0.25 + 0.16 + c.d.High, 0.16 + c.d.Covariance, 0.16 + c.d.Covariance, 0.04 + 0.16 + c.d.Low})
			var ch mat.Cholesky
			ch.Factorize(v)
			e := mat.NewVecDense(2, []float64{c.x + shift[0] - c.d.LnHigh, c.y + shift[1] - c.d.LnLow})
			var s mat.VecDense
			_ = ch.SolveVecTo(&s, e)
			want -= 0.5*mat.Dot(e, &s) + 0.5*ch.LogDet() + math.Log(2*math.Pi)
		}
		return want + distuv.Normal{Mu: data[1].LnHigh, Sigma: math.Sqrt(0.25 + 0.16 + 0.03)}.LogProb(-3.9+shift[0])
	}
	close(t, "log density", logDensity(m, data, times), about([2]float64{}), 1e-12)
	m.See = func(high, low float64) (float64, float64) { return 2 * high, low / 3 }
	close(t, "of what is seen", logDensity(m, data, times), about([2]float64{math.Ln2, -math.Log(3)}), 1e-12)
}

// What all captures share joins them: all times at once by one dense covariance, in whatever order.
func TestMisfitIsShared(t *testing.T) {
	m := Misfit{Share: 0.3, High: 0.5, Low: 0.2, Both: 0.4, Alike: 0.9}
	data := []Datum{
		{LnHigh: -5, LnLow: -6, High: 0.01, Low: 0.02, Covariance: 0.005},
		{LnHigh: -4, High: 0.03, OnePulse: true},
		{LnHigh: -3, LnLow: -2, High: 0.02, Low: 0.04, Covariance: -0.01},
	}
	form := [2][2]float64{{0.25 + 0.16, 0.16}, {0.16, 0.04 + 0.16}}
	v, errs := mat.NewSymDense(5, nil), mat.NewVecDense(5, []float64{0.4, -0.1, 0.1, -0.3, 0.5})
	of, in := []int{0, 1, 0, 0, 1}, []int{0, 0, 1, 2, 2}
	for i := range of {
		for k := range of {
			if in[i] == in[k] {
				v.SetSym(i, k, form[of[i]][of[k]])
			} else {
				v.SetSym(i, k, 0.9*form[of[i]][of[k]])
			}
		}
	}
	for i, e := range []float64{0.01, 0.02, 0.03, 0.02, 0.04} {
		v.SetSym(i, i, v.At(i, i)+e)
	}
	v.SetSym(0, 1, v.At(0, 1)+0.005)
	v.SetSym(3, 4, v.At(3, 4)-0.01)
	var ch mat.Cholesky
	ch.Factorize(v)
	var s mat.VecDense
	_ = ch.SolveVecTo(&s, errs)
	want := math.Log(0.3) - 0.5*mat.Dot(errs, &s) - 0.5*ch.LogDet() - 2.5*math.Log(2*math.Pi)
	close(t, "shared", logDensity(m, data, []float64{-4.6, -6.1, -3.9, -3.3, -1.5}), want, 1e-12)
	turned := []Datum{data[1], data[2], data[0]}
	close(t, "in another order", logDensity(m, turned, []float64{-3.9, -3.3, -1.5, -4.6, -6.1}), want, 1e-12)
}

// The noise of two times is the factor of their covariance; of a pulse its standard deviation; a fact's its own.
func TestNoiseIsTheCovariance(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-3)
	p.Data[0].High, p.Data[0].Low, p.Data[0].Covariance = 4e-6, 9e-6, -2e-6
	p.Data = append(p.Data, Datum{LnHigh: 1, High: 1e-6, OnePulse: true})
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	s := newSystem(p, &h)
	want := [][]float64{{4e-6, -2e-6, 0}, {-2e-6, 9e-6, 0}, {0, 0, 1e-6}}
	for i := range want {
		for k := range want {
			got := 0.0
			for j := range want {
				got += s.noise[i][j] * s.noise[k][j]
			}
			if !(math.Abs(got-want[i][k]) <= 1e-18) {
				t.Errorf("covariance %d %d: %v, want %v", i, k, got, want[i][k])
			}
		}
	}
	if !(s.tol > 0 && s.tol < 1e-3) { // below the least of them
		t.Errorf("solved to %v", s.tol)
	}
}

// What a cloud says: the evidence is the mean weight times the volume, its error that of the mean of the replicates, the effective
// size Kish's; its box is drawn about what weighs, and widened where weight lies against an inner side.
func TestCloudsAreSummarised(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-3)
	h := Hypothesis{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}
	s := newSystem(p, &h)
	s.logMass = 0.5
	c := &cloud{box: box{[]float64{0.2}, []float64{0.6}}, n: 8, log: make([]float64, 8*replicates), weights: make([]float64, 8*replicates), z: make([]float64, 8*replicates*len(s.centre))}
	sums := make([]float64, replicates)
	total, squares := 0.0, 0.0
	for i := range c.log {
		c.log[i] = 3 + math.Sin(float64(i*i))
		w := math.Exp(c.log[i])
		sums[i/8] += w
		total, squares = total+w, squares+w*w
	}
	c.weigh()
	e := s.summarise(c)
	close(t, "log evidence", e.logEvidence, math.Log(total/float64(len(c.log))*0.4)+0.5, 1e-12)
	close(t, "relative error", e.relative, max(tails*stat.StdDev(sums, nil)/math.Sqrt(replicates)/stat.Mean(sums, nil), squares/(total*total)), 1e-12)
	four := estimate{weights: []float64{1, 2, 3, 9}} // one a replicate: mean 15/4, standard deviation √(155/12)
	four.tally()
	close(t, "error of four", four.relative, tails*math.Sqrt(155./12)/2/(15./4), 1e-12)
	close(t, "effective", e.effective, total*total/squares, 1e-12)

	u := make([]float64, 1)
	at := func(i int) float64 {
		c.box.point(newLattice(1, 8, i/8, 0), i%8, u)
		return u[0]
	}
	low, high, hits := math.Inf(1), math.Inf(-1), 0
	for i := range c.log {
		if x := at(i); x > 0.3 && x < 0.45 {
			low, high, hits = min(low, x), max(high, x), hits+1
			c.log[i] = 3
		} else if c.log[i] = 3 - 16.5; i%2 == 0 {
			c.log[i] = math.Inf(-1)
		}
	}
	c.met = 0
	c.weigh()
	margin := 3*(high-low)/float64(hits) + 0.5*0.4/math.Sqrt(float64(hits*8))
	n := c.narrow(1)
	close(t, "from", n.from[0], max(low-margin, 0.2), 1e-12)
	close(t, "to", n.to[0], min(high+margin, 0.6), 1e-12)
	if w := c.widened(); w.from[0] != 0.2 || w.to[0] != 0.6 {
		t.Errorf("nothing lies against a side, widened to %v", w)
	}
	for i := range c.log {
		if c.log[i] = math.Inf(-1); at(i) > 0.56 || math.Abs(at(i)-0.4) < 0.1 {
			c.log[i] = 0
		}
	}
	c.met = 0
	c.weigh()
	if w := c.widened(); w.from[0] != 0.2 || !(math.Abs(w.to[0]-0.8) <= 1e-12) {
		t.Errorf("weight lies against the upper side, widened to %v", w)
	}
	for probability, want := range map[float64]float64{0.2: plenty, 0.001: ample, 0.01: 4 * 1e-4 / (sharp * sharp)} {
		close(t, "needed", needed(probability), want, 1e-12)
	}
}

// Elimination against the library's factors: determinant, solution and inverse of matrices of every size; a singular one has none.
func TestEliminationAgainstTheLibrary(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 71))
	for m := 1; m <= MostEquations; m++ {
		var f factors
		a, r := mat.NewDense(m, m, nil), make([]float64, m)
		for i := range m {
			r[i] = rnd.NormFloat64()
			for k := range m {
				f.lu[i][k] = rnd.NormFloat64()
				a.Set(i, k, f.lu[i][k])
			}
		}
		if !f.decompose(m) || !f.usable {
			t.Fatalf("size %d is singular", m)
		}
		logDet, _ := mat.LogDet(a)
		close(t, "determinant", f.logDet, logDet, 1e-9)
		var x mat.VecDense
		var inverse mat.Dense
		if x.SolveVec(a, mat.NewVecDense(m, r)) != nil || inverse.Inverse(a) != nil {
			t.Fatal("by the library")
		}
		w := newSolver(m, 0)
		w.own = f
		f.newton(r, w.dz)
		for i, got := range w.dz {
			close(t, "step", got, -x.AtVec(i), 1e-9)
		}
		w.invert()
		for i := range m {
			for k := range m {
				close(t, "inverse", w.inverse[i*m+k], inverse.At(i, k), 1e-9)
			}
		}
		close(t, "its determinant", w.logDet, logDet, 1e-9)
		if m > 1 {
			for k := range m {
				f.lu[0][k], f.lu[1][k] = 1, 2
			}
			for i := 2; i < m; i++ {
				for k := range m {
					f.lu[i][k] = a.At(i, k)
				}
			}
			if f.decompose(m) || f.usable {
				t.Errorf("size %d: rows that are multiples of each other have an inverse", m)
			}
		}
	}
}

// Bounds: an astable shows no edge for a time T with the chance that it falls into one half-cycle, counted here instant by instant; a pulse
// if it is longer; a board at rest for sure.
func TestChanceOfStandingStill(t *testing.T) {
	runs := true
	of := func(high, low float64, pulse bool) *circuit.Circuit {
		return &circuit.Circuit{OnePulse: pulse, Times: func(*circuit.Values) (float64, float64, bool) { return high, low, runs }}
	}
	for _, c := range []struct{ high, low, still float64 }{{3, 2, 1}, {3, 2, 2.5}, {3, 2, 4}, {2, 7, 3}} {
		s := &system{problem: &Problem{Bounds: []Bound{{Still: c.still}}}, circuit: of(c.high, c.low, false)}
		up, down, n := 0.0, 0.0, 100000
		for i := range n { // the watching begins somewhere in the period
			switch x := (c.high + c.low) * (float64(i) + 0.5) / float64(n); {
			case x+c.still < c.high:
				up++
			case x >= c.high && x+c.still < c.high+c.low:
				down++
			}
		}
		for state, hits := range map[int]float64{0: up + down, wiring.StandsHigh: up, wiring.StandsLow: down} {
			s.problem.Bounds[0].State = state
			close(t, "chance", math.Exp(s.still(nil)), hits/float64(n), 1e-3)
		}
		s.problem.Bounds[0].State = 0
		for _, longer := range []bool{false, true} {
			want := map[bool]float64{true: 0, false: math.Inf(-1)}[longer]
			s.circuit = of(map[bool]float64{true: c.still * 1.01, false: c.still}[longer], 1, true)
			if got := s.still(nil); got != want {
				t.Errorf("a pulse longer: %v; log chance %v, want %v", longer, got, want)
			}
		}
		runs = false
		if got := s.still(nil); got != 0 {
			t.Errorf("log chance of a board at rest %v", got)
		}
		runs = true
	}
	// A board that rests stands as its law says, but for one in twenty; where that says nothing, as likely high as low.
	stopped := of(0, 0, false)
	for _, c := range []struct {
		rests, seen int
		want        float64
	}{{1, 1, 0.95}, {-1, 1, 0.05}, {-1, -1, 0.95}, {0, 1, 0.5}, {0, -1, 0.5}, {1, 0, 1}, {0, 0, 1}} {
		s := &system{problem: &Problem{Bounds: []Bound{{Still: 9, State: c.seen}}}, circuit: stopped.Stopped("", c.rests)}
		close(t, "chance at rest", math.Exp(s.still(nil)), c.want, 1e-12)
	}
}

// Odds far apart do not overflow; a hypothesis's own circuit and what its captures show make its times.
func TestOddsAndTimes(t *testing.T) {
	p := probabilities([]Hypothesis{{Odds: 1, LogFactor: 1500}, {Odds: 3, LogFactor: 1500}, {Odds: 1}}, []estimate{{logEvidence: -2}, {logEvidence: -3}, {logEvidence: 700}})
	close(t, "odds", p[0]/p[1], math.E/3, 1e-9)
	close(t, "all", p[0]+p[1], 1, 1e-12)
	var v circuit.Values
	v[0], v[1] = 2, 3
	plain := powers([]float64{1, 0}, []float64{0, 1})
	for _, c := range []struct {
		h         Hypothesis
		high, low float64
	}{
		{Hypothesis{}, 2, 3},
		{Hypothesis{Circuit: powers([]float64{0, 2}, []float64{1, 0})}, 9, 2},
		{Hypothesis{See: func(v *circuit.Values, high, low float64) (float64, float64, bool) { return low, 10 * high, v[0] == 2 }}, 3, 20},
	} {
		high, low, ok := c.h.Times(plain, &v)
		if close(t, "high", high, c.high, 1e-12); !ok {
			t.Error("does not run")
		}
		close(t, "low", low, c.low, 1e-12)
	}
	for facts := 2; facts <= 3; facts++ {
		if _, err := Run(&Problem{Circuit: plain, Data: make([]Datum, 7), Facts: make([]Fact, facts)}, []Hypothesis{{}}); (err == nil) != (facts == 2) {
			t.Errorf("%d equations: %v", 14+facts, err)
		}
	}
}

// The error of a probability by those of the evidences, which are independent: by the derivatives, of all by all.
func TestErrorsOfProbabilities(t *testing.T) {
	c := &contest{share: []float64{0.7, 0.2, 0.1}, estimates: []estimate{{relative: 0.02}, {relative: 0.05}, {relative: 0.3}}}
	for i, got := range c.errors() {
		square := 0.0
		for j, e := range c.estimates { // d p_i / d log E_j = p_i (δ_ij - p_j)
			d := -c.share[i] * c.share[j]
			if i == j {
				d += c.share[i]
			}
			square += d * d * e.relative * e.relative
		}
		close(t, "error", got, math.Sqrt(square), 1e-9)
	}
}

// A box is widened by half of its width where more than a thousandth of the weight lies in the outer tenth.
func TestWidensByTheWeightAtASide(t *testing.T) {
	for _, side := range []float64{0.05, 0.95} {
		for _, share := range []float64{0.0005, 0.002} {
			c := &cloud{box: box{[]float64{0.3}, []float64{0.5}}, n: 16, met: 2, weights: make([]float64, 16*replicates)}
			best, middle := 0, 0
			for i := range c.weights {
				x := (c.place(i, 1)[0] - 0.3) / 0.2
				if math.Abs(x-side) < 0.05 {
					best = i
				}
				if math.Abs(x-0.5) < 0.1 {
					middle = i
				}
			}
			c.weights[best], c.weights[middle] = 50*share, 50*(1-share) // whatever their sum
			w := c.widened()
			want := [2]float64{0.3, 0.5}
			if share > 0.001 {
				want = map[float64][2]float64{0.05: {0.2, 0.5}, 0.95: {0.3, 0.6}}[side]
			}
			if !(math.Abs(w.from[0]-want[0]) <= 1e-12 && math.Abs(w.to[0]-want[1]) <= 1e-12) {
				t.Errorf("%g of the weight at %g: widened to %v, want %v", share, side, w, want)
			}
		}
	}
}
