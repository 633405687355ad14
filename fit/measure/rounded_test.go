package measure_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// A list of durations does not say whether each was rounded by itself or is the difference of rounded instants: with either, the period, the
// high and the low time are as far off as is stated, and of instants the period is known far better than to a digit.
func TestDurationsRoundedEachByItself(t *testing.T) {
	const n, jitter = 40, 0.05
	for _, alone := range []bool{true, false} {
		var square [3]float64
		wide, many := 0, draws(8)
		for seed := range uint64(many) {
			rnd := rand.New(rand.NewPCG(seed, 71))
			high, low, at := 300+1200*rnd.Float64(), 150+750*rnd.Float64(), 1000*rnd.Float64()
			var rows, state []float64
			sum, last := 0.0, at
			for i := range 2 * n {
				rows, state = append(rows, sum*1e-7), append(state, float64(1-i%2))
				at += []float64{high, low}[i%2]
				edge := at + jitter*rnd.NormFloat64()
				if alone {
					sum += math.Round(edge - last)
				} else {
					sum += math.Round(edge) - math.Round(last)
				}
				last = edge
			}
			c := measuretest.FromRows(acquire.Capture{Source: "durations", Kind: acquire.Transitions, Rounded: acquire.OfTimes, Step: 1e-7, TimeResolution: 1e-7,
				Channels: []acquire.Channel{{Name: "1", Number: 1}}}, rows, state)
			m, err := measure.Run(c, measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			p := m.Period()
			if p.Uncertainty > 0.5e-8 {
				wide++
			}
			for k, z := range []float64{(p.Value - (high+low)*1e-7) / p.Uncertainty, (m.High.Value - high*1e-7) / m.High.Uncertainty, (m.Low.Value - low*1e-7) / m.Low.Uncertainty} {
				square[k] += z * z / float64(many)
			}
		}
		for k, s := range square {
			if !(math.Sqrt(s) < 1.7) { // of 8
				t.Errorf("alone %v: rms error of %s over its uncertainty %.2f", alone, []string{"period", "high", "low"}[k], math.Sqrt(s))
			}
		}
		if alone && wide < many || !alone && wide > many/2 {
			t.Errorf("alone %v: of %d periods %d are known to no twentieth of a digit", alone, many, wide)
		}
	}
}
