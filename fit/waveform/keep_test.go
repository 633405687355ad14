package waveform

import (
	"errors"
	"math"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// A trace is cut off where it stands at its last value eight times or more, and more often than at the next by a fifth and twice what two
// counts differ by (Poisson): beside 20 times, 40 are, where 39.49 are asked, and 39 are not, where 39.36 are.
func TestEdgesOfTheScreen(t *testing.T) {
	for _, c := range []struct {
		last, next int
		cut        bool
	}{{8, 0, true}, {7, 0, false}, {40, 20, true}, {39, 20, false}, {12, 2, true}, {9, 2, false}, {10, 2, true}, {400, 300, false}, {415, 300, true}} {
		for _, sign := range []float64{1, -1} {
			k := &keeper{}
			for i := range max(c.last, c.next) {
				k.w = append(k.w, sign*float64(i)/1000)
				if i < c.next {
					k.w = append(k.w, sign*4)
				}
				if i < c.last {
					k.w = append(k.w, sign*5)
				}
			}
			k.w = append(k.w, -sign*7) // the other edge, where it comes but once
			k.edges()
			above := (1 + int(sign)) / 2
			if got := k.cut[above] == sign*5; got != c.cut || !math.IsNaN(k.cut[1-above]) {
				t.Errorf("%d times at %g, %d at %g: cut off at %v", c.last, sign*5, c.next, sign*4, k.cut)
			}
		}
	}
}

// What stands at the edge is taken off the end of the segment that it lies at, and counted; a segment that is hardly elsewhere is left whole.
func TestSeenIsBesideTheEdge(t *testing.T) {
	const from, end = 100, 140
	for _, c := range []struct {
		below, above []int
		from, end    int
		off          [2]int
	}{
		{nil, nil, from, end, [2]int{}},
		{[]int{101, 104}, []int{135, 138}, 105, 135, [2]int{5, 5}},
		{[]int{136}, []int{110, 100}, 111, 136, [2]int{4, 11}},
		{[]int{100, 131}, nil, 132, end, [2]int{32, 0}},
		{[]int{100, 132}, nil, from, end, [2]int{}},
		{[]int{105, 140}, []int{99}, 106, end, [2]int{6, 0}},
	} {
		k := &keeper{w: make([]float64, 200), cut: [2]float64{-1, 1}, off: [2]int{3, 4}}
		for _, i := range c.below {
			k.w[i] = -1
		}
		for _, i := range c.above {
			k.w[i] = 1
		}
		if a, b := k.seen(from, end); a != c.from || b != c.end || k.off != [2]int{3 + c.off[0], 4 + c.off[1]} {
			t.Errorf("below at %v, above at %v: %d to %d, left out %v; want %d to %d, %v more than 3 and 4", c.below, c.above, a, b, k.off, c.from, c.end, c.off)
		}
	}
	if k := (&keeper{w: make([]float64, 1000), cut: [2]float64{1, 2}, off: [2]int{5, 6}}); len(k.remarks()) != 1 {
		t.Errorf("more than one of 200 is said: %q", k.remarks())
	}
}

// Without a discharge that is long enough nothing is said of a square channel.
func TestChargesWithoutDischarges(t *testing.T) {
	var out, volt []float64
	for range 30 {
		for i := range 56 {
			out = append(out, 5*float64(max(0, 50-i)/max(1, 50-i)))
			volt = append(volt, 3-math.Exp(-float64(i)/20))
		}
	}
	_, err := Fit(measuretest.FromRows(acquire.Capture{Source: "harbour", Kind: acquire.Samples, Step: 1e-5}, nil, out, volt), Options{})
	if err == nil || !errors.Is(err, ErrCurve) || errors.As(err, new(*Bent)) || what(err) != "no whole charge and discharge of the capacitor was found" {
		t.Errorf("%v", err)
	}
}

func what(err error) string {
	var e *acquire.Error
	if errors.As(err, &e) {
		return e.What
	}
	return ""
}

// Two dozen points are the fewest of a run; a quarter of the record must lie behind its
// beginning, where two stretches of a sixtieth are spent to find it.
func TestFewestPointsOfACharge(t *testing.T) {
	for _, c := range []struct {
		points int
		flat   int // of them
		fits   bool
	}{{23, 0, false}, {24, 0, true}, {400, 288, true}, {400, 289, false}} {
		curve := &measure.Curve{}
		for i := range c.points {
			at := float64(i)
			curve.Time, curve.Volt = append(curve.Time, at), append(curve.Volt, 5-4*math.Exp(-3*max(at-float64(c.flat), 0)/float64(c.points-c.flat)))
		}
		r, err := FitCharge(curve, 0)
		if (err == nil) != c.fits || err != nil && !errors.Is(err, ErrBend) {
			t.Errorf("%d points of which %d are flat: %v", c.points, c.flat, err)
		}
		if want := float64(c.points-c.flat) / 3; err == nil && !(math.Abs(r.Tau.Value-want) <= 0.01*want) {
			t.Errorf("%d points of which %d are flat: time constant %v, want %v", c.points, c.flat, r.Tau.Value, want)
		}
	}
}
