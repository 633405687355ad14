package reconcile

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// However a leak follows the temperature, an honest second capture with C1 warmed takes no right answer away: of a leak
// that does not change, that follows as published for aluminium electrolytics (1.19 and 1.32 times the current in 10 K) and
// tantalum (1.47), and that doubles, the probability grows on average, as that of the truth must (a martingale under the
// priors), and never falls to less than half.
func TestALeakStaysALeakWhenWarmed(t *testing.T) {
	rng := rand.New(rand.NewPCG(20261129, 3))
	d := design("astable")
	leaky := func(f *compare.Finding) float64 {
		for _, c := range f.Causes {
			if c.Cause == "leakage" {
				return c.Probability
			}
		}
		return 0
	}
	var before, after float64
	for _, factor := range []float64{1, 1.19, 1.32, 1.47, 2} {
		value := func(i int) float64 {
			p := d.Parts[i]
			return p.Nominal * (1 + p.Plus*(2*rng.Float64()-1))
		}
		n := fittest.Network{Circuit: "astable", R1: value(0), R2: value(1), C: value(2), Leak: 200e3 * math.Pow(factor, 2.5) * math.Pow(10, rng.Float64()), Supply: 5}
		cold := integrate(t, n)
		f := run(t, d, cold)
		kelvin := 20 + 5*(2*rng.Float64()-1)
		n.Leak /= math.Pow(factor, kelvin/10)
		n.C *= 1 + kelvin*cause.TempcoSpread(d.Parts[2])*(2*rng.Float64()-1)
		warm := fit.Condition{Kind: fit.Warmed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 45, Half: 5}, Text: "C1 at 45 °C ± 5 °C"}
		g, _, err := SolveWith(d, []Observation{{Measurement: cold}, {Measurement: integrate(t, n), Conditions: []fit.Condition{warm}}})
		if err != nil {
			t.Fatal(err)
		}
		if leaky(g) < leaky(f)/2 {
			t.Errorf("%v times the current in 10 K: %s\nbefore: %s", factor, g.Finding, f.Finding)
		}
		before, after = before+leaky(f), after+leaky(g)
	}
	if after < before {
		t.Errorf("the leak's probability falls from %.2f to %.2f on average", before/5, after/5)
	}
}
