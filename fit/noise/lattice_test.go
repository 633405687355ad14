package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// grid is a noise-free train seen on a grid of whole numbers: each edge lies half a step before the first
// sample after it.
func grid(high, low, phase float64, cycles int) *train.Record {
	tr := train.New(true, false)
	var e []transition.Edge
	for k := range cycles {
		t := phase + float64(k)*(high+low)
		e = append(e, transition.Edge{X: math.Ceil(t) - 0.5, Cell: 1, Slope: 1, Rise: true}, transition.Edge{X: math.Ceil(t+high) - 0.5, Cell: 1, Slope: 1})
	}
	tr.Add(append(e, transition.Edge{X: math.Ceil(phase+float64(cycles)*(high+low)) - 0.5, Cell: 1, Slope: 1, Rise: true}))
	tr.End()
	return tr.Record()
}

// The harmonic sum gives the variance of the fitted times over a uniformly random phase. Here the phase is
// stepped through one sample and each train is rounded and fitted by itself.
func TestSumsAgainstEveryPhase(t *testing.T) {
	for _, c := range []struct {
		high, low float64
		cycles    int
	}{
		{57.3719, 91.1033, 40}, {72.98615, 56.99875, 60}, {50.25, 49.75, 30}, {33.3334, 66.6666, 25}, {20.01, 35.49, 300},
	} {
		fl := floors{lattice: [2]float64{1.0 / 12, 1.0 / 12}}
		nz := fl.noise(excess{1e-9, 1e-9, 1e-9})
		const phases = 997
		var hh, hl, ll float64
		var first *chain
		var wh, wl, phase []float64
		for i := range phases {
			ch := newChain(grid(c.high, c.low, float64(i)/phases+1e-7, c.cycles).Cycles, 1)
			f := filter{keep: true}
			ch.run(&nz, &f)
			h, l := ch.h0+f.high-c.high, ch.l0+f.low-c.low
			hh, hl, ll = hh+h*h/phases, hl+h*l/phases, ll+l*l/phases
			if first == nil {
				first = ch
				wh, wl = ch.weights(&f)
				for k := range c.cycles {
					phase = append(phase, float64(k)*(c.high+c.low), float64(k)*(c.high+c.low)+c.high)
				}
				phase = append(phase, float64(c.cycles)*(c.high+c.low))
			}
		}
		l := cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}
		terms, rest := l.Harmonics(400)
		a, b, d := first.sums(&l, wh, wl, phase, [2]float64{}, terms, rest)
		near := func(name string, got, want float64) {
			if !(math.Abs(got-want) <= 0.03*math.Sqrt(hh*ll)) {
				t.Errorf("%v: %s by harmonics %.4g, over all phases %.4g", c, name, got, want)
			}
		}
		near("variance of high", a, hh)
		near("covariance", b, hl)
		near("variance of low", d, ll)
		near("variance of period", a+2*b+d, hh+2*hl+ll)
		t.Logf("%v: period %.4g against %.4g", c, math.Sqrt(max(a+2*b+d, 0)), math.Sqrt(hh+2*hl+ll))
	}
}

// What averaging leaves of a line is the mean over the edges averaged, taken one by one about their middle.
func TestCombIsTheMean(t *testing.T) {
	for _, n := range []int{7, 8} {
		c := &chain{h0: 12.3, l0: 20.5, n: []float64{float64(n)}}
		for _, m := range []float64{0.001, 0.02, 1, 3, 7.5, 5 / 32.8, 8.2 / 32.8, 33 / 32.8} {
			sum := 0.0
			for k := range n {
				sum += math.Cos(2*math.Pi*m*(float64(k)-float64(n-1)/2)*(c.h0+c.l0)) / float64(n)
			}
			if got := c.comb(0, m); !(math.Abs(got-sum) <= 1e-9) {
				t.Errorf("turns of %g over %d: %g, mean %g", m, n, got, sum)
			}
		}
	}
}

// Rounding is averaged over where the answer may be: two ways on end have its two nodes of one standard deviation, of whose outer products the
// mean is the answer's covariance, of noise and of rounding that no averaging lessens (Gauss and Hermite's rule; the library's factor). Edges are
// moved by as many high and low times as they lie from the middle, and local noise counts no further than neighbours show.
func TestRoundingOverTheAnswer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 70))
	c := singly(rnd, 12, 0.1, 0)
	l := cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 0.8}}
	fl := floors{known: [2]float64{1e-3, 4e-3}, lattice: l.Variance()}
	n := len(c.y)
	var ways []way
	for j := range 4 {
		w := way{local: []float64{1e-3, 1e-3, 9, 9}[j], rows: []budget.Row{{High: 4e-4, Both: -1e-4, Low: 9e-4}}}
		w.white = 2e-3
		for i := range n {
			w.high, w.low, w.phase = append(w.high, rnd.NormFloat64()), append(w.low, rnd.NormFloat64()), append(w.phase, c.x[i])
		}
		ways = append(ways, w)
	}
	c.lattice(&l, &fl, ways)
	high, low := c.counts()
	terms, rest := l.Harmonics(64)
	v := l.Variance()
	one := v[0] + v[1]
	var root mat.Cholesky
	root.Factorize(mat.NewSymDense(2, []float64{4e-4 + one, -1e-4 - one, -1e-4 - one, 9e-4 + one + one/(c.cycles*c.cycles)}))
	var factor mat.TriDense
	root.LTo(&factor)
	for j, w := range ways {
		node := []float64{1, float64(1 - 2*(j%2))}
		moved := make([]float64, n)
		for i := range moved {
			moved[i] = c.x[i] + high[i]*factor.At(0, 0)*node[0] + low[i]*(factor.At(1, 0)*node[0]+factor.At(1, 1)*node[1])
		}
		spread := []float64{3e-3, c.scatter()}[j/2]
		aa, ab, bb := c.sums(&l, w.high, w.low, moved, [2]float64{1e-3 + spread, 4e-3 + spread}, terms, rest)
		got := w.rows[1]
		near(t, "variance of the high time", got.High, aa, 1e-9)
		near(t, "covariance", got.Both, ab, 1e-9)
		near(t, "variance of the low time", got.Low, bb, 1e-9)
	}
}
