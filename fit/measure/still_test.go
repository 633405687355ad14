package measure_test

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
)

// A record without pulses says for how long its output stands, where, and at what level; a curve, a pulse, noise without a level and
// a record of which nothing is known are none. Turned upside down and in time, it says the same of what is turned.
func TestStill(t *testing.T) {
	const n, step = 4000, 0.01
	rnd := rand.New(rand.NewPCG(3, 5))
	made := func(volt func(x float64) float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = volt(float64(i)/n) + 0.02*rnd.NormFloat64()
		}
		return v
	}
	at := func(edge float64) func(x float64) float64 {
		return func(x float64) float64 { return 0.1 + 4.1*map[bool]float64{true: 1}[x >= edge] }
	}
	for _, c := range []struct {
		name    string
		v       []float64
		still   bool
		seconds float64
		state   int
		level   float64
	}{
		{"flat low", made(func(float64) float64 { return 0.1 }), true, 40, 0, 0.1},
		{"flat high", made(func(float64) float64 { return 4.2 }), true, 40, 0, 4.2},
		{"up and on", made(at(0.1)), true, 36, 1, 4.2},
		{"up at last", made(at(0.9)), true, 36, -1, 0.1},
		{"a charge", made(func(x float64) float64 { return 5 * (1 - math.Exp(-5*x)) }), false, 0, 0, 0},
		{"a ramp", made(func(x float64) float64 { return 5 * x }), false, 0, 0, 0},
		{"one pulse", made(func(x float64) float64 { return at(0.3)(x) - at(0.6)(x) }), false, 0, 0, 0},
		{"nothing known", slices.Repeat([]float64{math.NaN()}, n), false, 0, 0, 0},
	} {
		for turn := range 4 {
			v, state, level := slices.Clone(c.v), c.state, c.level
			if turn&1 > 0 {
				slices.Reverse(v)
			}
			if turn&2 > 0 {
				for i := range v {
					v[i] = 5 - v[i]
				}
				state, level = -state, 5-level
			}
			capture := samples(v)
			capture.Step = step
			_, err := measure.Run(capture, measure.Options{})
			var s *measure.Still
			if errors.As(err, &s) != c.still {
				t.Errorf("%s, turn %d: %v", c.name, turn, err)
			} else if c.still && (!(math.Abs(s.Seconds-c.seconds) <= 0.1) || s.State != state || !(math.Abs(s.Level-level) <= 0.01) || s.Moved != (c.state != 0)) {
				t.Errorf("%s, turn %d: %+v", c.name, turn, s)
			}
		}
	}
}

// So does a list of states, of which the end is known.
func TestStillOfStates(t *testing.T) {
	for _, c := range []struct {
		time, state []float64
		seconds     float64
		want        int
	}{
		{[]float64{2, 14}, []float64{1, 1}, 12, 1},
		{[]float64{2, 3, 14}, []float64{0, 0, 0}, 12, -1},
		{[]float64{0, 1, 11}, []float64{0, 1, 1}, 10, 1},
		{[]float64{0, 9, 11}, []float64{0, 1, 1}, 9, -1},
		{[]float64{0, 5, 10}, []float64{1, 0, 0}, 5, 1}, // as long behind the edge: where it began
	} {
		sent := false
		_, err := measure.Run(acquire.NewCapture(acquire.Capture{Source: "list", Kind: acquire.Transitions}, func(b *acquire.Block) error {
			if sent {
				return io.EOF
			}
			sent = true
			b.N, b.Time, b.Value = len(c.time), c.time, [][]float64{c.state}
			return nil
		}), measure.Options{})
		var s *measure.Still
		if !errors.As(err, &s) || s.Seconds != c.seconds || s.State != c.want {
			t.Errorf("%v %v: %+v, %v", c.time, c.state, s, err)
		}
	}
}
