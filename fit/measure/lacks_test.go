package measure_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
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
		if !(math.Abs(m.Moves.Stops-c.stops) <= 2e-3) || m.Moves.Missing != c.missing {
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

// A stretch in which the output runs at another pace by far is said, whatever the pace: as a change, as times that are far too long
// or too short, as pulses that are missing, or by a refusal; no such record passes for one steady train.
func TestAnotherPaceIsSaid(t *testing.T) {
	for _, pace := range []float64{0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.7, 1.4, 1.8, 2, 2.5, 3, 4.6, 7} {
		var v []float64
		at, level := []float64{}, []float64{}
		now, due := 0.0, 0.0
		for i := range 80 {
			s := 1.0
			if i >= 30 && float64(i) < 30+12/pace && i < 60 {
				s = pace
			}
			for _, half := range []struct{ length, level float64 }{{220 * s, 5}, {180 * s, 0}} {
				at, level = append(at, due*1e-6), append(level, half.level/5)
				for due += half.length; now < due; now++ {
					v = append(v, half.level)
				}
			}
		}
		for name, c := range map[string]*acquire.Capture{
			"samples": measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-6}, nil, v),
			"edges":   measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, TimeResolution: 1e-9}, at, level),
		} {
			m, err := measure.Run(c, measure.Options{})
			if err == nil && len(m.Changes) == 0 && m.Moves == (fit.Moves{}) && m.Faults.Dropped < 3 {
				t.Errorf("%s, pace %g: nothing is said: %+v", name, pace, m.Faults)
			}
		}
	}
}

// A jump, or one and back, of any size and for any share of the record is no modulation: both stretches or all three are solved, with the
// periods that they have.
func TestJumpsAreNoModulation(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 17))
		n := 60 + rnd.IntN(300)
		at := 10/float64(n) + 0.4*rnd.Float64()
		back := at + 0.15 + 0.3*rnd.Float64()
		if seed%3 == 0 {
			back = 2
		}
		size := math.Pow(10, -1.2+2.1*rnd.Float64())
		if seed%2 == 0 {
			size = -size / (1 + size)
		}
		if size < -0.7 {
			size = -0.7 // pulses that the samples still show
		}
		m, err := measure.Run(recorded(rnd, inTurn(rnd, n, func(i int) (float64, float64) {
			f := 1 + 1e-3*rnd.NormFloat64()
			if x := float64(i) / float64(n); x >= at && x < back {
				f *= 1 + size
			}
			return f, f
		})), measure.Options{})
		if err != nil {
			t.Errorf("seed %d, %+.2f from %.2f to %.2f of %d cycles: %v", seed, size, at, back, n, err)
			continue
		}
		want := []float64{size, -size / (1 + size)}[:map[bool]int{true: 1, false: 2}[back > 1]]
		for i, by := range want {
			if len(m.Changes) != len(want) || !(math.Abs(m.Changes[i].By-by) < 0.02*(1+math.Abs(by))) {
				t.Errorf("seed %d, %+.2f from %.2f to %.2f of %d cycles: %+v", seed, size, at, back, n, m.Changes)
				break
			}
		}
	}
}
