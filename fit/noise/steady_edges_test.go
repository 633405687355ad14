package noise

import (
	"math"
	"testing"

	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// A chain has cells where its edges are sharp, in one run, kept singly, and on one grid; an edge's cell is the sample before it, where its
// place tells that, and else the nearest point of the first edge's grid.
func TestCellsOfAChain(t *testing.T) {
	chainOf := func(off float64, start int, n int) *chain {
		var c []train.Cycle
		for k := range 6 {
			c = append(c, train.Cycle{Rise: 0.5 + float64(20*k), Fall: 7.5 + float64(20*k) + off*float64(k%2), Index: float64(k), N: n, Start: k == 0 || k == start})
		}
		return newChain(c, 1)
	}
	whole := [2]float64{1, 1}
	for _, c := range []struct {
		name string
		c    *chain
		fl   floors
		want bool
	}{
		{"on a grid", chainOf(0, 0, 1), floors{width: whole}, true},
		{"a fifth off it", chainOf(0.2, 0, 1), floors{width: whole}, true},
		{"a third off it", chainOf(0.33, 0, 1), floors{width: whole}, false},
		{"a third off, by their places", chainOf(0.33, 0, 1), floors{width: whole, places: true}, true},
		{"two runs", chainOf(0, 3, 1), floors{width: whole}, false},
		{"averages", chainOf(0, 0, 2), floors{width: whole}, false},
		{"a sample on one slope", chainOf(0, 0, 1), floors{width: [2]float64{0.6, 1}}, false},
	} {
		e, lower, ok := c.c.edges(&c.fl)
		if ok != c.want {
			t.Errorf("%s: %v", c.name, ok)
			continue
		}
		for i, x := range lower { // the nominal times are 20 and 7, and the first edge is the chain's origin
			if off := math.Round(c.c.x[i]-c.c.x[0]) - (c.c.x[i] - c.c.y[i]) - x; ok && !(math.Abs(off-lower[0]+0.5) <= 1e-9) && !c.fl.places {
				t.Errorf("%s: edge %d begins its cell at %g", c.name, i, x)
			}
		}
		for s, index := range e.Index {
			for i, k := range index {
				side := 20*float64(i) + 7*float64(1-s)
				if ok && (k != float64(i) || !(math.Abs(e.Side[s][i]-side) <= 1e-9)) {
					t.Errorf("%s: edge %d of side %d is %g in cell %g, want %g", c.name, i, s, k, e.Side[s][i], side)
				}
			}
		}
	}
	if e, _, ok := newChain([]train.Cycle{{Rise: 0.5, Fall: 7.5, N: 1, Start: true}}, 1).edges(&floors{width: whole}); ok {
		t.Errorf("one cycle: %+v", e)
	}
}

// A train creeps where each first, second or third period moves it by less than two cells against the samples over the record, or a later one, of
// which there are twelve.
func TestCreeping(t *testing.T) {
	for _, c := range []struct {
		period float64
		cycles int
		want   bool
	}{{20, 50, true}, {20.03, 50, true}, {19.97, 50, true}, {20.05, 50, false}, {20.5, 50, true}, {20.51, 50, true}, {20.53, 50, false}, {20 + 1.0/3, 50, true}, {20.19, 5, true}, {20.21, 5, false},
		{20.25, 60, true}, {20.25, 40, false}, {20 + 1.0/9, 120, true}, {20 + 1.0/9, 100, false}, {20.1, 140, false}} {
		var list []train.Cycle
		for k := range c.cycles {
			x := float64(k) * c.period
			list = append(list, train.Cycle{Rise: x, Fall: x + 7, Index: float64(k), N: 1, Start: k == 0})
		}
		if got := newChain(list, 1).creeping(); got != c.want {
			t.Errorf("%d periods of %g: %v", c.cycles, c.period, got)
		}
	}
}

// A train has its answer by its cells with a walk of three tenths of one in a period, and white noise of 0.12, at most.
func TestSteadyCovers(t *testing.T) {
	s := &steadyFit{cycles: 100}
	limit := 0.3 * 0.3
	for _, c := range []struct {
		e    excess
		want bool
	}{{excess{0.01, limit / 3, limit / 3}, true}, {excess{0.015, limit / 3, limit / 3}, false}, {excess{0.01, limit, limit / 3}, false}} {
		if s.covers(c.e) != c.want {
			t.Errorf("%+v: %v", c.e, !c.want)
		}
	}
	if w := math.Exp(steadyWhite); !(math.Abs(w-cell.Largest*cell.Largest) <= 1e-12) {
		t.Errorf("white noise up to %g", w)
	}
}

// What so few intervals may hide of a period's noise: two parts in ten thousand of each, which fades with the fourth power of half the
// degrees of freedom. Worked out by hand.
func TestUnshown(t *testing.T) {
	if r := unshown(100, 1, 50, 1); !(math.Abs(math.Sqrt(r.High)-0.02) <= 1e-12) || !(math.Abs(math.Sqrt(r.Low)-0.01) <= 1e-12) {
		t.Errorf("one of each: %+v", r)
	}
	if r := unshown(100, 2, 50, 2); !(math.Abs(r.High/(0.02*0.02/2/2)-1) <= 1e-9) {
		t.Errorf("two of each: %+v", r)
	}
	if r := unshown(100, 4, 50, 4); !(math.Abs(r.High/(0.02*0.02/4/82)-1) <= 1e-9) || !(math.Abs(r.Low/(0.01*0.01/4/82)-1) <= 1e-9) {
		t.Errorf("four of each: %+v", r)
	}
	if r := unshown(100, 3, 0, 0); !(math.Abs(r.High/(0.02*0.02/3/2)-1) <= 1e-9) || r.Low != 0 {
		t.Errorf("three high times: %+v", r)
	}
}

// The nominal times are plain means, over gaps and edges that are missing; of runs without a whole period the gaps' low times count.
func TestNominalTimes(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		cycles    []train.Cycle
		high, low float64
	}{
		{[]train.Cycle{{Rise: 0, Fall: 3, N: 1, Start: true}, {Rise: 10, Fall: 12, Index: 1, N: 1}, {Rise: 20, Fall: 24, Index: 2, N: 1}}, 3, 7},
		{[]train.Cycle{{Rise: nan, Fall: 3, N: 1, Start: true}, {Rise: 10, Fall: 12, Index: 1, N: 1}, {Rise: 30, Fall: 32, Index: 3, N: 1}, {Rise: 500, Fall: 502, N: 1, Start: true}, {Rise: 511, Fall: nan, Index: 1, N: 1}}, 2, 31.0/3 - 2},
		{[]train.Cycle{{Rise: nan, Fall: 3, N: 1, Start: true}, {Rise: 10, Fall: 12, Index: 1, N: 1}, {Rise: nan, Fall: 103, N: 1, Start: true}, {Rise: 112, Fall: 116, Index: 1, N: 1}}, 3, 8},
		{[]train.Cycle{{Rise: 1, Fall: 4, N: 4, Index: 1.5, Start: true}, {Rise: 41, Fall: 45, N: 2, Index: 5.5}}, 10.0 / 3, 10 - 10.0/3},
	} {
		if h, l := nominal(c.cycles, 2); !(math.Abs(h/2-c.high) <= 1e-12) || !(math.Abs(l/2-c.low) <= 1e-12) {
			t.Errorf("%+v: high %g, low %g; want %g, %g", c.cycles, h/2, l/2, c.high, c.low)
		}
	}
}
