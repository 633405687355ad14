package noise

import (
	"math"
	"slices"
	"testing"
)

// The turns of 50 and of 60 Hz in a period, by hand, where a record has enough of their periods and a period of it is short enough.
func TestMainsByHand(t *testing.T) {
	const second = 1000 // a unit is a millisecond
	of := func(high, low, span float64) []float64 {
		c := &chain{h0: high, l0: low, x: []float64{700, 700 + span}}
		return c.mains(second)
	}
	for _, c := range []struct {
		high, low, span float64
		want            []float64
	}{{1.2, 0.8, 500, []float64{0.1, 0.12}}, {2.7, 1.9, 500, []float64{0.23}}, {3, 3, 500, nil}, {1.2, 0.8, 1000 * humPeriods / 50 * 0.99, nil}, {1.2, 0.8, 1010 * humSeconds, nil}} {
		got := of(c.high, c.low, c.span)
		if !slices.EqualFunc(got, c.want, func(a, b float64) bool { return math.Abs(a-b) <= 1e-12 }) {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// The longest of the runs, wherever it stands.
func TestLongestRun(t *testing.T) {
	for _, lengths := range [][]int{{3, 5, 6}, {6, 5, 3}, {3, 7, 6}, {9}} {
		c := &chain{}
		want, begin := [2]int{}, 0
		for _, n := range lengths {
			for i := range n {
				c.y, c.start = append(c.y, 0), append(c.start, i == 0)
			}
			if n == slices.Max(lengths) {
				want = [2]int{begin, begin + n}
			}
			begin += n
		}
		if from, to := c.longest(); from != want[0] || to != want[1] {
			t.Errorf("of %v from %d to %d, want %v", lengths, from, to, want)
		}
	}
}

// Steps that add up: a high and a low time's share of their variance each; a mean over n high times scatters by a share of one.
func TestStepsByHand(t *testing.T) {
	c := &chain{dh: []float64{1, 0, 1, 1}, dl: []float64{0, 1, 1, 0}, n: []float64{1, 1, 1, 4}}
	for i, want := range []float64{8, 3, 11, 2} {
		if got := c.step(i, &noise{high: 8, low: 3, white: [2]float64{5, 5}}); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("before observation %d: %g, want %g", i, got, want)
		}
	}
}
