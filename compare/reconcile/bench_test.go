package reconcile

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// harbour is an astable whose capacitor has grown by 18 %.
func harbour(family string) (*fit.Design, *fit.Measurement) {
	d := &fit.Design{Circuit: "astable", Family: family, History: fit.New,
		Supply: fit.Reading{Value: 5, Half: 0.1},
		Parts: []fit.Part{
			{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138, Low: 138 * 0.97, High: 138 * 1.03}},
	}
	h, l := 57.1e3*118e-9*math.Ln2, 47.1e3*118e-9*math.Ln2
	return d, &fit.Measurement{
		High:  fit.Estimate{Value: h, Uncertainty: h * 1e-4, Count: 100},
		Low:   fit.Estimate{Value: l, Uncertainty: l * 1e-4, Count: 100},
		Clock: 50e-6,
	}
}

// One board a run: boards/s is what the lot command and the live view live on.
func BenchmarkRun(b *testing.B) {
	for _, family := range []string{fit.Ideal, fit.CMOS, fit.Bipolar} {
		b.Run(family, func(b *testing.B) {
			d, m := harbour(family)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(d, []*fit.Measurement{m}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "boards/s")
		})
	}
}

// One board of a lot of 2,000 whose parts scatter over a third of their tolerances: ns/op is for one board, the cells that
// its neighbours share among them.
func BenchmarkBrief(b *testing.B) {
	random := rand.New(rand.NewPCG(19, 9))
	boards := make([][]*fit.Measurement, 2000)
	for i := range boards {
		_, m := harbour(fit.CMOS)
		r2, c := 0.0033*random.NormFloat64(), 0.033*random.NormFloat64()
		m.High.Value *= math.Exp(c + 0.8*r2)
		m.Low.Value *= math.Exp(c + r2)
		boards[i] = []*fit.Measurement{m}
	}
	for _, family := range []string{fit.Ideal, fit.CMOS, fit.Bipolar} {
		b.Run(family, func(b *testing.B) {
			d, _ := harbour(family)
			many, err := NewMany(d)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				if _, err := many.Brief(b.Context(), boards[i%len(boards)]); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "boards/s")
		})
	}
}

// Two settings, the second with a known capacitor across C1.
func BenchmarkRunWith(b *testing.B) {
	d, m := harbour(fit.CMOS)
	more := *m
	for _, e := range []*fit.Estimate{&more.High, &more.Low} {
		e.Value *= 218. / 118
		e.Uncertainty *= 218. / 118
	}
	obs := []question.Observation{{Measurement: m}, {Measurement: &more, Conditions: []fit.Condition{condition(fit.InParallel, "C1", 100e-9, 0.01)}}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := foundWith(d, obs); err != nil {
			b.Fatal(err)
		}
	}
}

// What has moved since: the earlier times, and everything that may have happened.
func BenchmarkSolveSince(b *testing.B) {
	d, m := harbour(fit.CMOS)
	earlier, err := Run(d, []*fit.Measurement{m})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := SolveUntil(b.Context(), d, []question.Observation{{Measurement: m}}, earlier); err != nil {
			b.Fatal(err)
		}
	}
}
