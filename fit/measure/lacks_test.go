package measure_test

import (
	"math"
	"slices"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// pulsing is a record of 60 cycles of 11 high and 7 low samples, without those cycles that are left out, and a tail of one level.
func pulsing(left []int, tail int, level float64) (v []float64) {
	for i := range 60 {
		for k := range 18 {
			if k >= 3 && k < 14 && !slices.Contains(left, i) {
				v = append(v, 5)
			} else {
				v = append(v, 0)
			}
		}
	}
	for range tail {
		v = append(v, level)
	}
	return v
}

// Pulses that an output leaves out, and its end inside the record, are said; a record that ends within four periods of the last
// pulse, or whose end is not known, says nothing of that, and edges that a list lacks may have been lost on their way.
func TestPulsesThatAreNotThere(t *testing.T) {
	for _, c := range []struct {
		name    string
		v       []float64
		stops   float64 // s
		missing int
	}{
		{"all there", pulsing(nil, 0, 0), 0, 0},
		{"ends soon after", pulsing(nil, 3*18, 0), 0, 0},
		{"stops low", pulsing(nil, 400, 0), 0.403, 0},
		{"stops high", pulsing(nil, 400, 5), 0.399, 0},
		{"its end is not known", pulsing(nil, 400, math.NaN()), 0, 0},
		{"five missing", pulsing([]int{11, 22, 23, 40, 51}, 0, 0), 0, 5},
		{"every eleventh", pulsing([]int{5, 16, 27, 38, 49}, 0, 0), 0, 5},
		{"both", pulsing([]int{9, 30}, 300, 0), 0.303, 2},
	} {
		m := run(t, c.v)
		if math.Abs(m.Moves.Stops-c.stops) > 2e-3 || m.Moves.Missing != c.missing {
			t.Errorf("%s: %+v, want %g s and %d", c.name, m.Moves, c.stops, c.missing)
		}
		var at, level []float64
		for i := 1; i < len(c.v); i++ {
			if a, b := c.v[i-1] > 2, c.v[i] > 2; a != b {
				at, level = append(at, float64(i)*1e-3), append(level, map[bool]float64{true: 1, false: 0}[b])
			}
		}
		list := measured(t, measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, TimeResolution: 1e-6}, at, level), measure.Options{})
		if list.Moves.Stops != 0 || list.Moves.Missing != 0 || list.Faults.Dropped != c.missing {
			t.Errorf("%s, its edges: %+v %+v", c.name, list.Moves, list.Faults)
		}
	}
}
