package hierarchy

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// A board against the design's times and back is the measurement that it came from.
func TestBoardAndBack(t *testing.T) {
	m := &fit.Measurement{High: fit.Estimate{Value: 4e-3, Uncertainty: 4e-6}, Low: fit.Estimate{Value: 3e-3, Uncertainty: 6e-6}, Covariance: -5e-12}
	for _, low := range []float64{2.5e-3, 0} {
		b, err := BoardOf("lamp 1", []*fit.Measurement{m}, 3.7e-3, low)
		if err != nil {
			t.Fatal(err)
		}
		got := b.Measurement(3.7e-3, low, 1e-6)
		near(t, "high", got.High.Value, 4e-3, 1e-15)
		near(t, "its uncertainty", got.High.Uncertainty, 4e-6, 1e-15)
		want := *m
		if low == 0 {
			want = fit.Measurement{}
		}
		near(t, "low", got.Low.Value, want.Low.Value, 1e-15)
		near(t, "its uncertainty", got.Low.Uncertainty, want.Low.Uncertainty, 1e-15)
		near(t, "covariance", got.Covariance, want.Covariance, 1e-24)
		if low == 0 && got.Low != want.Low {
			t.Errorf("a pulse has the low time %+v", got.Low)
		}
		if got.Clock != 1e-6 || got.Source != "lamp 1" {
			t.Errorf("%+v", got)
		}
	}
	for _, high := range []float64{0, math.NaN(), -1} {
		for i, m := range []*fit.Measurement{{High: fit.Estimate{Value: high}, Low: fit.Estimate{Value: 1}}, {High: fit.Estimate{Value: 1}, Low: fit.Estimate{Value: high}}} {
			for _, low := range []float64{1, 0} {
				_, err := BoardOf("lamp 1", []*fit.Measurement{m}, 1, low)
				if none := i == 0 || low > 0; none != (err != nil && err.Error() == "no usable times") {
					t.Errorf("times of %g and %g beside a low one of %g: %v", m.High.Value, m.Low.Value, low, err)
				}
			}
		}
	}
	for _, d := range []float64{20.7, 20.8} { // ln 1e9 = 20.723
		far := &fit.Measurement{High: fit.Estimate{Value: 1}, Low: fit.Estimate{Value: math.Exp(-d)}}
		if _, err := BoardOf("lamp 1", []*fit.Measurement{far}, 1, 1); (err != nil) != (d > 20.75) {
			t.Errorf("a low time exp(%g) times too short: %v", d, err)
		}
	}
	two, err := BoardOf("lamp 1", []*fit.Measurement{m, m}, 1, 1) // means of two that are as well known
	if err != nil {
		t.Fatal(err)
	}
	near(t, "noise of two", two.Noise.Low, 4e-6/2, 1e-18)
	// A covariance that the two uncertainties do not allow is cut to what they do.
	b := Board{Noise: Noise{High: 4e-6, Covariance: 9e-6, Low: 1e-6}}
	v := b.noise(false)
	near(t, "correlation", v[1]/math.Sqrt(v[0]*v[2]), 0.999, 1e-6)
	near(t, "high", v[0], 4e-6, 1e-12)
	near(t, "low", v[2], 1e-6, 1e-12)
	if b.Noise = (Noise{}); !b.noise(false).valid() || !b.noise(true).valid() {
		t.Error("exact boards have a noise that is singular")
	}
}

// The priors of x = (spread/scale)²: of a half-normal spread x has mean 1 (chi-square with one degree of freedom); a half-t spread
// is k times as likely at nought as at s by Student's density, and x has it over 2√x.
func TestPriorsOfSpreads(t *testing.T) {
	timer, part := factor{scale: 0.5}, factor{scale: 0.05, part: true}
	sum, mean := 0.0, 0.0
	const step = 1e-3
	for root := step / 2; root < 8; root += step { // dx = 2 √x d√x
		w := math.Exp(timer.logPrior(root*root)) * 2 * root * step
		sum, mean = sum+w, mean+w*root*root
	}
	near(t, "mean of a timer's", mean/sum, 1, 1e-5)
	student := func(s float64) float64 { return math.Pow(1+s*s/4, -2.5) } // four degrees of freedom
	for _, s := range []float64{0.5, 1, 7} {
		got := math.Exp(part.logPrior(s*s)-part.logPrior(1e-8)) * s / 1e-4
		near(t, "a part's", got, student(s), 1e-6)
	}
	if last := math.Ln10 / 0.05; math.IsInf(part.logPrior(last*last*0.999), -1) || !math.IsInf(part.logPrior(last*last*1.001), -1) {
		t.Error("a part's spread ends elsewhere than at a factor of ten")
	}
}

// Boards with one noise have their mean for a centre, whatever V is: its covariance is the mean of (V + noise)/n over the draws of V.
// Spreads are the roots of the draws, their interval the 2.5 % points.
func TestSettledByHand(t *testing.T) {
	m := model(t, lamp(fit.Ideal))
	noise := Noise{High: 3e-6, Covariance: -1e-6, Low: 5e-6}
	boards := []Board{{High: 0.01, Low: 0.02, Noise: noise}, {High: -0.02, Low: 0.01, Noise: noise}, {High: 0.04, Low: -0.06, Noise: noise}, {High: 0.01, Low: 0.01, Noise: noise}}
	var points [][]float64
	var sum matrix
	for i := range 1001 {
		x := make([]float64, len(m.factors))
		for j := range x {
			x[j] = math.Pow(float64((i*373)%1001)/1000, 2) // the roots are 0, 1/1000 … 1
		}
		points, sum = append(points, x), sum.plus(m.covariance(x).times(1./1001))
	}
	var r Result
	m.settle(&r, m.classify(boards), points)
	near(t, "high", r.High, 0.01, 1e-12)
	near(t, "low", r.Low, -0.005, 1e-12)
	near(t, "variance of high", r.Covariance.High, (sum[0]+3e-6)/4, 1e-12)
	near(t, "covariance", r.Covariance.Covariance, (sum[1]-1e-6)/4, 1e-12)
	near(t, "variance of low", r.Covariance.Low, (sum[2]+5e-6)/4, 1e-12)
	for j, f := range m.factors[:3] {
		s := m.spread(points, j)
		near(t, "lower end", s.Interval95[0], 0.025*f.scale, 1e-12)
		near(t, "upper end", s.Interval95[1], 0.975*f.scale, 1e-12)
		near(t, "mean", s.Value, 0.5*f.scale, 1e-9)
		near(t, "standard deviation", s.Standard, f.scale*math.Sqrt(1002./1000/12), 1e-3*f.scale)
	}
}

// The split scale reduction of two chains of four draws, worked out by hand: halves with means 2, 2, 3, 5 and variance 2 each.
func TestScaleReductionByHand(t *testing.T) {
	chain := func(spreads ...float64) (run [][]float64) {
		for _, s := range spreads {
			run = append(run, []float64{4, s * s})
		}
		return run
	}
	near(t, "scale reduction", scaleReduction([][][]float64{chain(1, 3, 1, 3), chain(2, 4, 4, 6)}), math.Sqrt(1-0.5+1), 1e-12)
	near(t, "of chains that stand", scaleReduction([][][]float64{chain(1, 1, 1, 1), chain(1, 1, 1, 1)}), 1, 0)
}

// A timer's term moves the times by as much as its standard deviation does: (b-a)/√12 of a rectangular prior (JCGM 100 4.3.7),
// the difference taken here over the whole of it.
func TestTimerFactors(t *testing.T) {
	d := lamp(fit.Bipolar)
	m := model(t, d)
	c, err := circuit.Of(d)
	if err != nil {
		t.Fatal(err)
	}
	at, err := c.Typical(d)
	if err != nil {
		t.Fatal(err)
	}
	priors, err := c.Priors(d.Family)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, p := range priors {
		sd := p.B
		if p.Form == circuit.Uniform {
			sd = (p.B - p.A) / 3.4641016
		}
		up, down := at, at
		up[p.Slot] += sd / 3
		down[p.Slot] -= sd / 3
		h1, l1, ok1 := c.Times(&up)
		h0, l0, ok0 := c.Times(&down)
		for _, f := range m.factors[3:] {
			if f.name == p.Name && ok1 && ok0 {
				near(t, f.name+", high", f.column[0], 1.5*math.Log(h1/h0), 0.02*math.Abs(f.column[0])+1e-7)
				near(t, f.name+", low", f.column[1], 1.5*math.Log(l1/l0), 0.02*math.Abs(f.column[1])+1e-7)
				seen++
			}
		}
	}
	if seen < 3 {
		t.Errorf("%d terms of the timer were looked at", seen)
	}
}

// The restricted likelihood of boards with unlike noise, and their centre, by dense matrices: generalised least squares of all times on
// one mean (Patterson and Thompson 1971).
func TestRestrictedLikelihoodByMatrices(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 9))
	m := &Model{}
	var boards []Board
	for i := range 12 {
		n := []float64{1e-6, 3e-5, 8e-4}[i%3]
		boards = append(boards, Board{High: 0.1 + 0.03*rng.NormFloat64(), Low: -0.2 + 0.05*rng.NormFloat64(), Noise: Noise{High: n, Covariance: 0.3 * n, Low: 2 * n}})
	}
	data := m.classify(boards)
	if len(data) != 3 || data[0].n != 4 {
		t.Fatalf("%d classes", len(data))
	}
	dense := func(v matrix) (l, high, low float64) {
		size := 2 * len(boards)
		w, x, y := mat.NewSymDense(size, nil), mat.NewDense(size, 2, nil), mat.NewVecDense(size, nil)
		for i, b := range boards {
			s := v.plus(b.noise(false))
			w.SetSym(2*i, 2*i, s[0])
			w.SetSym(2*i, 2*i+1, s[1])
			w.SetSym(2*i+1, 2*i+1, s[2])
			x.Set(2*i, 0, 1)
			x.Set(2*i+1, 1, 1)
			y.SetVec(2*i, b.High)
			y.SetVec(2*i+1, b.Low)
		}
		var ch mat.Cholesky
		ch.Factorize(w)
		var wx, gram mat.Dense
		_ = ch.SolveTo(&wx, x)
		gram.Mul(x.T(), &wx)
		var xy, mean, fitted, left, wl mat.VecDense
		xy.MulVec(wx.T(), y)
		_ = mean.SolveVec(&gram, &xy)
		fitted.MulVec(x, &mean)
		left.SubVec(y, &fitted)
		_ = ch.SolveVecTo(&wl, &left)
		return -0.5 * (ch.LogDet() + math.Log(mat.Det(&gram)) + mat.Dot(&left, &wl)), mean.AtVec(0), mean.AtVec(1)
	}
	first := matrix{1e-3, 2e-4, 2e-3}
	one, high, low := dense(first)
	if at, _ := centre(data, first); !(math.Abs(at[0]-high) <= 1e-12) || !(math.Abs(at[1]-low) <= 1e-12) {
		t.Errorf("centre %v, want %v, %v", at, high, low)
	}
	for _, v := range []matrix{{1e-4, 0, 1e-4}, {4e-3, -1e-3, 1e-3}, {2e-5, 1e-5, 9e-3}} {
		other, _, _ := dense(v)
		if got := logLikelihood(data, v) - logLikelihood(data, first); !(math.Abs(got-(other-one)) <= 1e-9*math.Abs(other-one)) {
			t.Errorf("%v: %v, want %v", v, got, other-one)
		}
	}
}

// Slopes of an astable: R1 has its share of R1 + R2 in the high time and none in the low one. What is no part has none.
func TestSlopeOfAPart(t *testing.T) {
	m := model(t, lamp(fit.Bipolar))
	high, low := m.Slope("R1")
	near(t, "high", high, 10./57, 0.02)
	near(t, "low", low, 0, 0.01) // the switch's resistance
	high, low = m.Slope("C1")
	near(t, "high", high, 1, 0.02)
	near(t, "low", low, 1, 0.02)
	for _, name := range []string{"R9", m.factors[4].name} {
		if high, low := m.Slope(name); high != 0 || low != 0 {
			t.Errorf("%s has the slopes %g and %g", name, high, low)
		}
	}
	c, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := slope(c, circuit.Ideal(5), circuit.Upper, 0); ok {
		t.Error("a step of nought has a slope")
	}
}

// What is no covariance has no likelihood, of one class of noise and of two; and which matrices are covariances.
func TestNoCovariance(t *testing.T) {
	m := &Model{}
	boards := []Board{{High: 1, Noise: Noise{High: 1e-6, Low: 1e-6}}, {Low: 1, Noise: Noise{High: 1e-6, Low: 1e-6}}, {High: 2, Noise: Noise{High: 1e-6, Low: 1e-6}}, {Low: 3, Noise: Noise{High: 1, Low: 1}}}
	for n := 3; n <= 4; n++ {
		if l := logLikelihood(m.classify(boards[:n]), matrix{4, 9, 4}); !math.IsInf(l, -1) {
			t.Errorf("log likelihood of %d boards %g", n, l)
		}
	}
	for v, want := range map[matrix]bool{{1, 0, 1}: true, {2, 1, 1}: true, {1, 1, 1}: false, {-1, 0, -1}: false, {1, 2, 1}: false, {math.Inf(1), 0, math.Inf(1)}: false, {1, 0, math.Inf(1)}: false} {
		if v.valid() != want {
			t.Errorf("%v: %v", v, !want)
		}
	}
}

// Each way of moving draws from its own density, here each alone, against quadrature: the logarithm of one variance, with the
// others held; a line through two; a line that leaves V, on which the priors alone decide.
func TestMovesDrawFromTheirDensity(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 9))
	m := &Model{factors: []factor{newFactor("a", pair{1, 0.8}, 0.03, true), newFactor("b", pair{0.5, 0.4}, 0.04, false), newFactor("c", pair{0.1, 0.9}, 0.05, true)}}
	var boards []Board
	for range 15 {
		a := 0.04 * rnd.NormFloat64()
		boards = append(boards, Board{High: a + 0.01*rnd.NormFloat64(), Low: 0.8*a + 0.02*rnd.NormFloat64(), Noise: Noise{High: 1e-5, Low: 1e-5}})
	}
	s := newSampler(m, m.classify(boards), 3)
	if len(s.row) != 2 || len(s.null) != 1 {
		t.Fatalf("%d directions move V, %d leave it", len(s.row), len(s.null))
	}
	v := m.covariance([]float64{1, 1, 1})
	for i, x := range m.covariance([]float64{1 + s.null[0][0], 1 + s.null[0][1], 1 + s.null[0][2]}) {
		near(t, "V along a direction that leaves it", x, v[i], 1e-12)
	}
	start := []float64{1.2, 0.8, 0.6}
	at := func(d []float64, u float64) []float64 {
		return []float64{start[0] + u*d[0], start[1] + u*d[1], start[2] + u*d[2]}
	}
	for _, c := range []struct {
		name string
		d    []float64
		move func(x []float64)
		log  func(x []float64) float64
	}{
		{"stretch", []float64{1, 0, 0}, func(x []float64) { s.stretch(x, 0) }, s.log},
		{"a line", []float64{0, 1, -0.5}, func(x []float64) { s.move(x, []float64{0, 1, -0.5}, s.log) }, s.log},
		{"a flat line", s.null[0], func(x []float64) { s.move(x, s.null[0], s.logPrior) }, s.log},
	} {
		// By quadrature along the line, as far as all variances are above nought.
		from, to := -60.0, 60.0
		for j, g := range c.d {
			if g > 0 {
				from = max(from, -start[j]/g)
			} else if g < 0 {
				to = min(to, -start[j]/g)
			}
		}
		const n = 40000
		var sum, mean, square float64
		top := c.log(start)
		for i := range n { // the ends, where the priors rise, by the square of a like step
			f := (float64(i) + 0.5) / n
			u, du := from+(to-from)*f*f*(3-2*f), (to-from)*6*f*(1-f)/n
			w := math.Exp(c.log(at(c.d, u))-top) * du
			sum, mean, square = sum+w, mean+w*u, square+w*u*u
		}
		mean /= sum
		sd := math.Sqrt(square/sum - mean*mean)
		x := append([]float64(nil), start...)
		var m1, m2 float64
		const draws = 6000
		for range draws {
			c.move(x)
			u := 0.0
			for j := range x {
				u += (x[j] - start[j]) * c.d[j]
			}
			u /= c.d[0]*c.d[0] + c.d[1]*c.d[1] + c.d[2]*c.d[2]
			for j, want := range at(c.d, u) {
				if !(math.Abs(x[j]-want) <= 1e-9) || !(x[j] > 0) {
					t.Fatalf("%s: %v is not on the line", c.name, x)
				}
			}
			m1, m2 = m1+u/draws, m2+u*u/draws
		}
		near(t, c.name+", mean", m1, mean, 0.1*sd)
		near(t, c.name+", standard deviation", math.Sqrt(m2-m1*m1), sd, 0.12*sd)
	}
	if got := len(s.run(7)); got != 7 {
		t.Errorf("%d of 7 draws", got)
	}
}

// Boards of unlike noise: what is open of their centre is the mean of what is open for each draw of V and the covariance of the centres.
func TestSettledByTotalVariance(t *testing.T) {
	rnd := rand.New(rand.NewPCG(31, 9))
	m := model(t, lamp(fit.Ideal))
	var boards []Board
	for i := range 10 {
		n := []float64{1e-6, 2e-3}[i%2]
		boards = append(boards, Board{High: 0.05*rnd.NormFloat64() + 200*n, Low: 0.05*rnd.NormFloat64() - 100*n, Noise: Noise{High: n, Low: 3 * n}})
	}
	data := m.classify(boards)
	if apart := m.classify([]Board{{Noise: Noise{High: 2e-4, Low: 1e-4}}, {Noise: Noise{High: 1.1e-4, Low: 1e-5}}}); len(data) != 2 || len(apart) != 2 {
		t.Errorf("%d and %d classes", len(data), len(apart))
	}
	const n = 50
	var points [][]float64
	at, within := mat.NewDense(n, 2, nil), matrix{}
	for i := range n {
		points = append(points, []float64{3 * rnd.Float64(), 3 * rnd.Float64(), 3 * rnd.Float64()})
		c, information := centre(data, m.covariance(points[i]))
		at.SetRow(i, c[:])
		within = within.plus(information.inverse().times(1. / n))
	}
	var between mat.SymDense
	stat.CovarianceMatrix(&between, at, nil) // over n-1
	var r Result
	m.settle(&r, data, points)
	near(t, "high", r.High, stat.Mean(mat.Col(nil, 0, at), nil), 1e-12)
	near(t, "variance of high", r.Covariance.High, within[0]+between.At(0, 0)*(n-1)/n, 1e-12)
	near(t, "covariance", r.Covariance.Covariance, within[1]+between.At(0, 1)*(n-1)/n, 1e-12)
	near(t, "variance of low", r.Covariance.Low, within[2]+between.At(1, 1)*(n-1)/n, 1e-12)
	if between.At(0, 0) < within[0]/1e4 {
		t.Error("the centres are all alike: nothing is shown")
	}
}
