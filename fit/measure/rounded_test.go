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

// listed is a list of the edges of a steady train, in digits of 0.1 us, as its durations were rounded: each by itself, or as differences of
// rounded instants.
func listed(rnd *rand.Rand, kind acquire.Rounding, alone bool, cycles int, high, low, jitter float64) *acquire.Capture {
	at := 1000 * rnd.Float64()
	edges := make([]float64, 2*cycles+1)
	for i := range edges {
		edges[i] = at + jitter*rnd.NormFloat64()
		at += []float64{high, low}[i%2]
	}
	lasts := func(from, to int) float64 {
		if alone {
			return math.Round(edges[to] - edges[from])
		}
		return math.Round(edges[to]) - math.Round(edges[from])
	}
	var rows, state []float64
	rise := 0.0
	for i := 0; i+2 < len(edges); i += 2 {
		fall, next := rise+lasts(i, i+1), 0.0
		switch kind {
		case acquire.OfTimes:
			next = fall + lasts(i+1, i+2)
		case acquire.OfPeriods:
			next = rise + lasts(i, i+2)
		case acquire.OfPulses:
			next = rise + math.Round(edges[i+2]) - math.Round(edges[i])
		}
		rows, state = append(rows, rise*1e-7, fall*1e-7), append(state, 1, 0)
		rise = next
	}
	return measuretest.FromRows(acquire.Capture{Source: "durations", Kind: acquire.Transitions, Rounded: kind, TimeUnit: "us", Step: 1e-7, TimeResolution: 1e-7,
		Channels: []acquire.Channel{{Name: "1", Number: 1}}}, rows, state)
}

// A list of durations does not say whether each was rounded by itself or is the difference of rounded instants: with either, the period, the
// high and the low time are as far off as is stated. Of
// instants the period is mostly known far better than to a digit, of numbers
// rounded one by one no better than to a twentieth.
func TestDurationsRoundedEachByItself(t *testing.T) {
	const jitter = 0.05
	for _, c := range []struct {
		kind   acquire.Rounding
		cycles int
		starts bool // the starts of the periods are instants, whatever the durations are
	}{{acquire.OfTimes, 40, false}, {acquire.OfPeriods, 40, false}, {acquire.OfPulses, 250, true}} {
		for _, alone := range []bool{true, false} {
			var square [3]float64
			wide, many := 0, draws(8)
			for seed := range uint64(many) {
				rnd := rand.New(rand.NewPCG(seed, 71))
				high, low := 300+1200*rnd.Float64(), 150+750*rnd.Float64()
				m, err := measure.Run(listed(rnd, c.kind, alone, c.cycles, high, low, jitter), measure.Options{})
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
				if m.TimeUnit != "us" {
					t.Errorf("%v: read in %q", c.kind, m.TimeUnit)
				}
				if i := slices.IndexFunc(m.Budget, func(b fit.Term) bool { return b.Name == "rounding of each duration" }); i < 0 {
					t.Errorf("%v: the budget does not tell of durations that were rounded: %+v", c.kind, m.Budget)
				}
			}
			for k, s := range square {
				if !(math.Sqrt(s) < 1.7) { // of 8
					t.Errorf("%v alone %v: rms error of %s over its uncertainty %.2f", c.kind, alone, []string{"period", "high", "low"}[k], math.Sqrt(s))
				}
			}
			if apart := alone && !c.starts; apart != (wide > many/2) {
				t.Errorf("%v alone %v: of %d periods %d are known to no twentieth of a digit", c.kind, alone, many, wide)
			}
		}
	}
}
