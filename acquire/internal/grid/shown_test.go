package grid

import "testing"

// A common step of few different differences is chance: two numbers share a factor of ten in one case of a hundred (the share of pairs
// that a number divides is the inverse of its square; common knowledge), and six hardly share any.
func TestCommonStepByChance(t *testing.T) {
	for _, c := range []struct {
		name string
		t    []float64 // in digits
		want int64
	}{
		{"two that share ten", []float64{0, 340, 610, 950, 1220}, 1},
		{"two that share ten, and rows of one time", []float64{0, 340, 340, 610, 950, 1220}, 1},
		{"two that share a hundred", []float64{0, 3400, 6100, 9500, 12200}, 100},
		{"one alone, and its multiples", []float64{0, 30, 60, 90}, 1},
		{"four that share ten", []float64{0, 340, 610, 960, 1220}, 10},
		{"six that share two", []float64{0, 34, 62, 98, 128, 168, 210}, 2},
		{"six that share nothing", []float64{0, 34, 62, 98, 128, 168, 209}, 1},
	} {
		var kinds []int64
		for i := range c.t { // in pieces, as they are read
			kinds = Differences(kinds, c.t[max(i-1, 0):i+1], 1)
		}
		if got := Shown(CommonStep(c.t, 0, 1), len(kinds)); got != c.want {
			t.Errorf("%s: %d, expected %d", c.name, got, c.want)
		}
	}
}
