package level

import (
	"math"
	"slices"
	"testing"
)

// A side stands at the edge of the screen where 98 of 100 samples and more, of twenty at least, are its last value, and the other side shakes: a
// twentieth of its samples lie outside its median by a fourth of what as many lie inside it by, and more. So it is wherever the levels lie.
func TestCutOffBesideNoise(t *testing.T) {
	side := func(n int, middle, outside, inside float64) []float64 {
		out := slices.Repeat([]float64{middle}, n)
		for i := range n/20 + 1 {
			out[i], out[n-1-i] = middle-outside, middle+inside
		}
		return out
	}
	at := func(n, below int, edge float64) []float64 {
		out := slices.Repeat([]float64{edge}, n)
		for i := range below {
			out[i] = edge - 0.5
		}
		return out
	}
	for name, c := range map[string]struct {
		low, high []float64
		want      bool
	}{
		"noise":             {side(100, 3, 1, 1), at(100, 0, 5), true},
		"noise below zero":  {side(100, -3, 1, 1), at(100, 0, 5), true},
		"more than slopes":  {side(100, 3, 0.26, 1), at(100, 0, 5), true},
		"slopes":            {side(100, 3, 0.24, 1), at(100, 0, 5), false},
		"slopes below zero": {side(100, -3, 0.24, 1), at(100, 0, 5), false},
		"just slopes":       {side(100, 0, 0.25, 1), at(100, 0, 5), false},
		"wide slopes":       {side(100, 3, 0.4, 2), at(100, 0, 5), false},
		"quiet":             {side(100, 3, 0, 0), at(100, 0, 5), false},
		"one of 100 lower":  {side(100, 3, 1, 1), at(100, 1, 5), true},
		"two of 100 lower":  {side(100, 3, 1, 1), at(100, 2, 5), false},
		"twenty":            {side(20, 3, 1, 1), at(20, 0, 5), true},
		"few of the noise":  {side(19, 3, 1, 1), at(20, 0, 5), false},
		"few at the edge":   {side(20, 3, 1, 1), at(19, 0, 5), false},
	} {
		if got := cut(c.low, c.high); got != c.want {
			t.Errorf("%s: cut off %v", name, got)
		}
	}
	if got := turned([]float64{-2, 1, 5}); !slices.Equal(got, []float64{-5, -1, 2}) {
		t.Errorf("turned: %v", got)
	}
}

// The middle is passed where samples go from one side of it to the other; on it they are not above, and what is no number passes nothing.
func TestCrossingsOfTheMiddle(t *testing.T) {
	e := Estimate{}
	e.Reference = 0.5
	for want, v := range map[int][]float64{0: nil, 1: {0, 0.5, 0.5, 0.2}, 2: {0, 0.5, 1, 1}, 3: {1, math.NaN(), 1, 0, math.NaN(), 0, 1}, 4: {0, 1, 0.5, 1}} {
		if got := e.crossings(v); got != want { // the first sample counts for one
			t.Errorf("%v: %d, want %d", v, got, want)
		}
	}
}

// What may lie beyond the edge of the screen is a share of the swing that is seen, at the side that stands there; the noise is the other's.
func TestCutIsOfTheSwing(t *testing.T) {
	for k, edge := range []float64{-1, 3} {
		v := square(4000, 0.5, -1, 3, 0.1, 0, 9)
		for i, x := range v {
			if math.Abs(x-edge) < 1 {
				v[i] = edge
			}
		}
		e, ok := Find(v)
		if !ok || !(math.Abs(e.Cut[k]-4*Beyond) <= 0.02) || e.Cut[1-k] != 0 || !(math.Abs(e.Noise-0.1) <= 0.01) {
			t.Errorf("cut off at %g: %+v", edge, e)
		}
	}
}

// As many as a tenth of the gaps may miss whole numbers of the common step, which is the mean of the least.
func TestCommonStep(t *testing.T) {
	gaps := []float64{0.9, 0.9, 0.9, 1.1, 1.1, 1.1, 1.1, 1.1, 1.1, 1.6}
	if got, want := common(gaps), 9.3/9; !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("one of ten astray: %g, want %g", got, want)
	}
	if got := common(gaps[1:]); got != 1.1 { // the quarter's
		t.Errorf("one of nine astray: %g", got)
	}
}
