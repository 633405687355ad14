package measure_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// fromPrior draws a train of the cycles given from what the fit supposes of its noise: white noise of the edges, and
// where walks is true steps in each period that matter beside it, up to 3e-3 of the period, shared out between high and
// low time by a log normal ratio.
func fromPrior(rnd *rand.Rand, cycles float64, walks bool) measuretest.Wave {
	w := measuretest.Wave{Kind: acquire.Transitions, High: logUniform(rnd, 1e-3, 5e-3), Low: logUniform(rnd, 1e-3, 5e-3), Cycles: cycles}
	period := w.High + w.Low
	w.Phase = (rnd.Float64() - 0.5) * period
	w.White = period * logUniform(rnd, 1e-5, 2e-4)
	if walks {
		step := logUniform(rnd, w.White/cycles, 3e-3*period)
		share := 1 / (1 + w.Low/w.High*math.Exp(-2*rnd.NormFloat64()))
		w.HighStep, w.LowStep = step*math.Sqrt(share), step*math.Sqrt(1-share)
	}
	return w
}

// TestWalkIsCalibrated draws trains from the prior. Of those for which a walk is stated to be so and so likely, that share
// has one, and the error of the period has the size that is stated of it for a train without a walk and for one with.
// Half of the trains have a walk, where the prior says one in 1 + √cycles, or 1 + cycles/30 where that is less, and one in two at most: the stated odds are taken to those.
func TestWalkIsCalibrated(t *testing.T) {
	n := draws(80)
	for _, cycles := range []float64{6.3, 40.3} {
		var have, said, spread [3]float64 // by the stated probability
		var without, with tally
		for i := range n {
			rnd := rand.New(rand.NewPCG(uint64(i), 31))
			walks := i%2 == 0
			w := fromPrior(rnd, cycles, walks)
			m, err := measure.Run(w.Capture(rnd), measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			odds := m.Walk.Probability / (1 - m.Walk.Probability) * min(math.Sqrt(float64(m.Cycles)), max(float64(m.Cycles)/30, 1))
			p := 1.0
			if !math.IsInf(odds, 1) {
				p = odds / (1 + odds)
			}
			bin := min(int(3*p), 2)
			said[bin] += p
			spread[bin] += p * (1 - p)
			e := m.Period().Value - w.High - w.Low
			if walks {
				have[bin]++
				with.add(e, m.Walk.With, 0)
			} else {
				without.add(e, m.Walk.Without, 0)
			}
		}
		for bin := range have {
			// Two standard deviations of a count, of trains that are always the same ones, and one for the few that fall between two bins.
			if d := math.Abs(have[bin] - said[bin]); d > 2*math.Sqrt(spread[bin])+1 {
				t.Errorf("%.0f cycles: %.1f of the trains in third %d are said to have a walk, %.0f have", cycles, said[bin], bin+1, have[bin])
			}
		}
		t.Logf("%.0f cycles: %.2f and %.2f; said %.1f, have %.0f", cycles, without.rms(), with.rms(), said, have)
		if !without.inside(0.8, 1.2, 1, 2) || !with.inside(0.8, 1.2, 1, 2) {
			t.Errorf("%.0f cycles: error over uncertainty %.2f without a walk and %.2f with one, want 0.8 to 1.2", cycles, without.rms(), with.rms())
		}
	}
}
