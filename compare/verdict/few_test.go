package verdict_test

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"offbeat/acquire"
	"offbeat/compare/verdict"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// few draws a capture of 2 to 6 whole cycles: samples, logic or a list, with jitter, a walk or both.
func few(rnd *rand.Rand) measuretest.Wave {
	within := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, rnd.Float64()) }
	w := measuretest.Wave{Step: 1, High: within(20, 300), Low: within(20, 300), Cycles: 3.3 + 4*rnd.Float64(), Upper: 5}
	w.Phase = (rnd.Float64() - 0.5) * (w.High + w.Low)
	switch rnd.IntN(4) {
	case 0:
		w.Kind = acquire.Logic
	case 1:
		w.Kind, w.Step = acquire.Transitions, 0.01
	case 2:
		w.Code, w.Noise, w.Rise, w.Fall = 8.0/256, within(0.02, 0.2), within(0.1, 8), within(0.1, 8)
	case 3:
		w.Code, w.Noise, w.Rise, w.Fall, w.Shape = 8.0/256, within(0.02, 0.2), within(0.2, 3), within(0.2, 3), measuretest.Exponential
	}
	kind := rnd.IntN(4)
	if kind&1 > 0 {
		w.White = within(0.01, 1)
	}
	if kind&2 > 0 {
		w.HighStep, w.LowStep = within(0.01, 1), within(0.01, 1)
	}
	return w
}

// TestFewCyclesOutsidePass: of boards whose true value lies on a limit, captured for 2 to 6 cycles, no more pass than the guard band
// states, 2.3 %. OFFBEAT_STUDY is how many captures are taken.
func TestFewCyclesOutsidePass(t *testing.T) {
	captures, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	captures = max(captures, 40)
	seeds, _ := strconv.ParseUint(os.Getenv("OFFBEAT_STUDY_SEED"), 10, 64)
	passes, of := map[string]int{}, map[string]int{}
	for i := range uint64(captures) {
		rnd := rand.New(rand.NewPCG(seeds+i, 61))
		w := few(rnd)
		m, err := measure.Run(w.Capture(rnd), measure.Options{})
		if err != nil {
			continue
		}
		p := w.High + w.Low
		for name, truth := range map[string]float64{"high_time": w.High, "low_time": w.Low, "period": p, "frequency": 1 / p, "duty_factor": w.High / p} {
			for _, target := range []fit.Target{{Quantity: name, Low: truth, High: 1.3 * truth}, {Quantity: name, Low: 0.7 * truth, High: truth}} {
				v, err := verdict.Decide([]fit.Target{target}, m, false)
				if err != nil {
					t.Fatal(err)
				}
				if of[name]++; v.Result == verdict.Pass {
					passes[name]++
				}
			}
		}
	}
	for name, n := range of {
		t.Logf("%s: of %d on a limit %d pass, %.2f %%", name, n, passes[name], 100*float64(passes[name])/float64(n))
		if most := 0.0228 * float64(n); float64(passes[name]) > most+3*math.Sqrt(most) {
			t.Errorf("%s: of %d on a limit %d pass", name, n, passes[name])
		}
	}
}
