package measure_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
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

// By how much single pulses jump or grow is stated as a share of their length, whatever the interval is: that of the two means, as uncertain as
// Student's pooled deviation makes their difference, and that of the line of least squares from the first to the last; at the place of the
// first pulse of the other length. As little as warmth makes is said to be slight. Pulses that the
// record's ends cut are left out.
func TestSinglePulsesInShares(t *testing.T) {
	length := func(i int) float64 { return 200 + float64(i%3) }
	for trial, step := range []float64{1e-3, 4e-6, 1e-3, 1e-3} {
		var v, before, after []float64
		if trial == 2 { // the record begins in a pulse
			v = slices.Repeat([]float64{5}, 70)
		}
		begin, second := 0, 0.0
		for i := range 13 {
			h := length(i)
			if i >= 6 && i < 10 {
				h += 20
				after = append(after, h)
			} else {
				before = append(before, h)
			}
			v = append(v, make([]float64, 90+7*i)...)
			if i == 6 {
				begin = len(v)
			} else if i == 10 {
				second = float64(len(v))
			}
			for range int(h) {
				v = append(v, 5)
			}
		}
		if v = append(v, make([]float64, 90)...); trial == 3 { // or ends in one
			v = append(v, slices.Repeat([]float64{5}, 70)...)
		}
		c := samples(v)
		c.Step = step
		m, err := measure.Run(c, measure.Options{SinglePulse: true})
		if err != nil || len(m.Changes) != 2 {
			t.Fatalf("%v, %+v", err, m)
		}
		n, k := float64(len(before)), float64(len(after))
		pooled := math.Sqrt((stat.Variance(before, nil)*(n-1) + stat.Variance(after, nil)*(k-1)) / (n + k - 2))
		by := stat.Mean(after, nil) - stat.Mean(before, nil)
		for i, of := range []float64{stat.Mean(before[:6], nil), stat.Mean(after, nil)} {
			near(t, "jump", m.Changes[i].By, float64(1-2*i)*by/of, 1e-3)
			near(t, "its uncertainty", m.Changes[i].Uncertainty, pooled*math.Sqrt(1/n+1/k)/of, 1e-4)
			near(t, "where", m.Changes[i].Time/step, []float64{float64(begin), second}[i], 1)
			near(t, "before", m.Changes[i].Before/step, of, 0.2)
			near(t, "after", m.Changes[i].After/step, []float64{stat.Mean(after, nil), stat.Mean(before[6:], nil)}[i], 0.2)
		}
	}
	v := append(slices.Repeat([]float64{5}, 70), make([]float64, 90)...)
	for i := range 12 { // the fifth whole one is unlike the others, and in no picture of them
		v = append(append(v, slices.Repeat([]float64{5}, int(length(i))+map[int]int{4: 60}[i])...), make([]float64, 80+61*i%200)...)
	}
	m, err := measure.Run(samples(v), measure.Options{SinglePulse: true})
	if err != nil || m.Moves.Odd != 1 || m.High.Count != 11 || len(m.Series.High) < 10 || slices.Max(m.Series.High) > 0.21 {
		t.Errorf("%v, %+v", err, m)
	}
	for _, share := range []float64{-3e-3, -1.9e-3, 1.9e-3, 2.1e-3} {
		at, state, now := []float64{0}, []float64{0}, 1.0
		var x, y []float64
		for i := range 25 {
			h := 10e-3 * (1 + share*float64(i)/24 + 5e-5*float64(i%3-1))
			at, state = append(at, now, now+h), append(state, 1, 0)
			now += h + 0.1 + 0.03*float64(i%4)
			x, y = append(x, float64(i)), append(y, h)
		}
		m := measured(t, measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, TimeResolution: 1e-9}, at, state), measure.Options{SinglePulse: true})
		a, b := stat.LinearRegression(x, y, nil, false)
		left := 0.0
		for i := range x {
			left += math.Pow(y[i]-a-b*x[i], 2)
		}
		u := math.Sqrt(left / 23 / (25 * 26 * 24 / 12)) // Σ (x - mean)² of 0 … 24
		near(t, "slope", m.Moves.By, b*24/stat.Mean(y, nil), 1e-5)
		near(t, "its uncertainty", m.Moves.Uncertainty, u*24/stat.Mean(y, nil), 1e-6)
		if slight := math.Abs(share) < 2e-3; m.Moves.Slight != slight || slight != slices.Contains(m.Notes, m.Moves.Text(m.Subject())) {
			t.Errorf("%g: %+v, %q", share, m.Moves, m.Notes)
		}
	}
}
