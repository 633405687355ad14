package measure_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit"
	"offbeat/fit/measure"
)

// Single pulses that differ are told by how they do: those unlike the others, which are kept out of the mean, a slope, a jump with each
// stretch measured by itself; pulses alike are not.
func TestSinglePulsesThatDiffer(t *testing.T) {
	const n, length = 12, 200. // samples
	for _, c := range []struct {
		name string
		by   func(i int) float64
		odd  int
		is   func(m *fit.Measurement) bool
	}{
		{"alike", func(int) float64 { return 1 }, 0, func(m *fit.Measurement) bool { return m.Moves == fit.Moves{} && len(m.Changes) == 0 }},
		{"one longer by half", func(i int) float64 { return map[int]float64{4: 1.5}[i] }, 1, nil},
		{"one twice and a half as long", func(i int) float64 { return map[int]float64{4: 2.5}[i] }, 1, nil},
		{"one half as long, one by a fifth longer", func(i int) float64 { return map[int]float64{4: 0.5, 9: 1.2}[i] }, 2, nil},
		{"a jump", func(i int) float64 { return map[bool]float64{true: 1.1}[i >= 5] }, 0, func(m *fit.Measurement) bool {
			return len(m.Changes) == 1 && math.Abs(m.Changes[0].By-0.1) < 5*m.Changes[0].Uncertainty && m.Stretches[0].High.Count == 5 && m.Stretches[1].High.Count == 7 &&
				math.Abs(m.Stretches[1].High.Value/m.Stretches[0].High.Value-1.1) < 0.01
		}},
		{"a jump and its return", func(i int) float64 { return map[bool]float64{true: 1.1}[i >= 3 && i < 8] }, 0, func(m *fit.Measurement) bool {
			return len(m.Changes) == 2 && len(m.Stretches) == 3 && math.Abs(m.Changes[0].By-0.1) < 5*m.Changes[0].Uncertainty &&
				math.Abs(m.Changes[1].By+0.1/1.1) < 5*m.Changes[1].Uncertainty && m.Stretches[1].High.Count == 5
		}},
		{"a slope", func(i int) float64 { return 1 + 0.01*float64(i) }, 0, func(m *fit.Measurement) bool {
			return len(m.Changes) == 0 && math.Abs(m.Moves.By-0.11/1.055) < 5*m.Moves.Uncertainty+0.002
		}},
	} {
		rng := rand.New(rand.NewPCG(41, 42))
		var v []float64
		hold := func(volt, samples float64) {
			for range int(samples) {
				v = append(v, volt+0.02*rng.NormFloat64())
			}
		}
		hold(0, 90)
		for i := range n {
			by := c.by(i)
			if by == 0 {
				by = 1
			}
			hold(5, length*by+0.7*rng.NormFloat64()+0.5)
			hold(0, 80+200*rng.Float64())
		}
		m, err := measure.Run(samples(v), measure.Options{SinglePulse: true})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if m.Moves.Odd != c.odd || c.is != nil && !c.is(m) {
			t.Errorf("%s: %+v, %+v, high %v", c.name, m.Moves, m.Changes, m.High)
		}
		if c.is == nil && !(math.Abs(m.High.Value-length*1e-3) < 5*m.High.Uncertainty) || c.odd > 0 && m.High.Count != n-c.odd {
			t.Errorf("%s: the others are %v", c.name, m.High)
		}
	}
}
