package noise

import (
	"math"
	"testing"

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
