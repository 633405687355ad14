package measure_test

import (
	"math/rand/v2"
	"testing"

	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// TestLevelsBetweenCodes: levels at any place between two codes, midway too, with noise from none to a step: the errors of high time,
// low time and period are what the reference level's share and the rest state.
func TestLevelsBetweenCodes(t *testing.T) {
	for _, noise := range []float64{0, 0.05, 0.1, 0.2, 0.5, 1} {
		for _, rise := range []float64{6, 0.5} {
			var z, p [4]tally
			for seed := range uint64(draws(30)) {
				rnd := rand.New(rand.NewPCG(seeds()+seed, uint64(100*noise)))
				w := measuretest.Wave{Step: 1, High: 57.31 + 40*rnd.Float64(), Low: 91.77 + 40*rnd.Float64(), Cycles: 30.3, Phase: 100 * rnd.Float64(), Rise: rise, Fall: rise * (0.5 + rnd.Float64()),
					Code: 0.1, Noise: 0.1 * noise, White: 0.05}
				w.Lower, w.Upper = 0.1*rnd.Float64(), 4+0.1*rnd.Float64()
				to := &z
				if seed%3 == 0 { // midway
					w.Lower, w.Upper = 0.05+0.02*(rnd.Float64()-0.5), 4.05+0.02*(rnd.Float64()-0.5)
					to = &p
				}
				m, err := measure.Run(w.Capture(rnd), measure.Options{})
				if err != nil {
					t.Fatal(err)
				}
				normalised(m, w, to)
			}
			for i, name := range []string{"high time", "low time", "period"} {
				a, b := z[i].rms(), p[i].rms()
				t.Logf("noise %.2f of a step, rise %g: %s %.2f, midway %.2f", noise, rise, name, a, b)
				if a > 1.4 || b > 1.5 {
					t.Errorf("noise of %.2f of a step, rise of %g: error of the %s over its uncertainty has root mean square %.2f, midway between two codes %.2f", noise, rise, name, a, b)
				}
			}
		}
	}
}
