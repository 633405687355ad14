package posterior

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

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
	close(t, "log density", m.logDensity(data, times), about([2]float64{}), 1e-12)
	m.See = func(high, low float64) (float64, float64) { return 2 * high, low / 3 }
	close(t, "of what is seen", m.logDensity(data, times), about([2]float64{math.Ln2, -math.Log(3)}), 1e-12)
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
			if math.Abs(got-want[i][k]) > 1e-18 {
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
	if w := c.widened(); w.from[0] != 0.2 || math.Abs(w.to[0]-0.8) > 1e-12 {
		t.Errorf("weight lies against the upper side, widened to %v", w)
	}
	for probability, want := range map[float64]float64{0.2: plenty, 0.001: ample, 0.01: 4 * 1e-4 / (sharp * sharp)} {
		close(t, "needed", needed(probability), want, 1e-12)
	}
}
