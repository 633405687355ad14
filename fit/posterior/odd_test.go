package posterior

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/circuit"
)

// A comb takes each sample that a tooth falls on, the teeth being even over all the weights: whatever they add up to, in order, as many
// as are asked for.
func TestCombIsEven(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 8))
	for trial := range 40 {
		r := Result{Samples: make([]Sample, 1+rng.IntN(30))}
		total := 0.0
		for i := range r.Samples {
			if rng.IntN(4) > 0 || i == 0 {
				r.Samples[i].Weight = math.Exp(2*rng.NormFloat64()) * 3
			}
			total += r.Samples[i].Weight
		}
		n, first := 1+rng.IntN(50), []float64{0, 0.5, 0.999, rng.Float64()}[trial%4]
		got := r.Comb(n, first)
		if len(got) != n || cap(got) != n {
			t.Fatalf("%d of %d taken", len(got), n)
		}
		at, sum := 0, r.Samples[0].Weight
		for k, s := range got {
			for tooth := (float64(k) + first) / float64(n) * total; sum <= tooth && at < len(r.Samples)-1; {
				at++
				sum += r.Samples[at].Weight
			}
			if s != &r.Samples[at] && math.Abs(sum/total*float64(n)-float64(k)-first) > 1e-9 {
				t.Fatalf("tooth %d of %d from %g on: another sample than number %d of %d", k, n, first, at, len(r.Samples))
			}
		}
	}
}

// What a board that nothing explains shows of its own, times and facts, counts by the density that they bring: by that of the rest alone
// but for a factor, where several facts share one, and where it is the plain one as without it.
func TestOwnDensitiesOfTheUnexplained(t *testing.T) {
	misfit := []Misfit{{Share: 1, High: 1, Low: 1}}
	hs := []Hypothesis{{Odds: 1, Prior: tolerance(0.05, 0.05, 0.2), Unexplained: true, Misfit: misfit}}
	of := func(facts ...Fact) float64 {
		p := bench(t, 10e3, 47e3, 100e-9, 1e-3)
		for i := range facts {
			facts[i].Half = 0.02
			facts[i].Of = func(v *circuit.Values) float64 { return math.Log(v[i] / p.Base[i]) }
		}
		p.Facts = facts
		r, err := Run(p, hs)
		if err != nil {
			t.Fatal(err)
		}
		return r.Outcomes[0].LogEvidence
	}
	normal := func(errors []float64) (sum float64) {
		for _, e := range errors {
			sum += distuv.UnitNormal.LogProb(e)
		}
		return sum
	}
	nothing := func(lack float64) func(errors []float64) float64 { return func([]float64) float64 { return lack } }
	two := of(Fact{Value: 0.1}, Fact{Value: -0.3})
	close(t, "by the plain density of both", of(Fact{Value: 0.1, Odd: normal, Odds: 2}, Fact{Value: -0.3}), two, 1e-9)
	close(t, "of each", of(Fact{Value: 0.1, Odd: normal, Odds: 1}, Fact{Value: -0.3, Odd: normal, Odds: 1}), two, 1e-9)
	close(t, "of the second", of(Fact{Value: 0.1}, Fact{Value: -0.3, Odd: normal, Odds: 1}), two, 1e-9)
	none, three := of(), of(Fact{Odd: nothing(-7), Odds: 2}, Fact{Value: 99}, Fact{Value: -0.3})
	close(t, "two that are any", of(Fact{Odd: nothing(-7), Odds: 2}, Fact{Value: 99}), none-7, 1e-9)
	third := of(Fact{Odd: nothing(0), Odds: 1}, Fact{Odd: nothing(0), Odds: 1}, Fact{Value: -0.3})
	close(t, "and a third that is not", three, third-7, 1e-9)
	if plain := none + distuv.UnitNormal.LogProb(0.3); !(math.Abs(third-plain) <= 0.02) { // C lies within a fifth
		t.Errorf("a fact of its own density: %v, about %v", third, plain)
	}

	lack := -3.5
	data := []Datum{{LnHigh: -5, LnLow: -6, High: 0.01, Low: 0.02}, {LnHigh: -4, LnLow: 9, Odd: &lack}, {LnHigh: -3, Odd: &lack, OnePulse: true}, {LnHigh: -3, LnLow: -2, High: 0.02, Low: 0.04}}
	times := []float64{-4.6, -6.1, 1, 2, 3, -3.3, -1.5}
	m := Misfit{Share: 0.3, High: 0.5, Low: 0.2, Both: 0.4, Alike: 0.9}
	rest := logDensity(m, []Datum{data[0], data[3]}, []float64{-4.6, -6.1, -3.3, -1.5})
	close(t, "captures whose own waveform says what they are", logDensity(m, data, times), rest-7, 1e-12)
}
