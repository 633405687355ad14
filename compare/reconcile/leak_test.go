package reconcile

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
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
		g, _, err := SolveWith(d, []question.Observation{{Measurement: cold}, {Measurement: integrate(t, n), Conditions: []fit.Condition{warm}}})
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

// A leak that grows until the board stops is said as "no pulse in 60 s", which makes the leak more likely and not
// impossible; of a board that stands still for a time that no cause makes, none is left but the unexplained.
func TestABoardThatStopsSpeaksForTheLeak(t *testing.T) {
	d := design("astable")
	m := integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 98e-9, Leak: 200e3, Supply: 5})
	before := run(t, d, m)
	warm := fit.Condition{Kind: fit.Warmed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 55, Half: 5}, Text: "C1 at 55 °C ± 5 °C"}
	d.Stills = []fit.Still{{Seconds: 60, Conditions: []fit.Condition{warm}}}
	after := run(t, d, m)
	if b, a := before.Causes[0], after.Causes[0]; a.Cause != "leakage" || a.Cause != b.Cause || a.Probability <= b.Probability {
		t.Errorf("before: %s\nafter: %s", before.Finding, after.Finding)
	}
	d.Stills[0].Conditions = nil
	if f := run(t, d, m); f.Causes[0].Cause != "unexplained" {
		t.Errorf("standing still as it is: %s", f.Finding)
	}
	d.Stills[0].Conditions = []fit.Condition{{Kind: fit.InParallel, Part: "C9", Known: fit.Reading{Value: 1e-9}, Text: "C9 || 1n"}}
	if _, err := Run(d, []*fit.Measurement{m}); err == nil {
		t.Error("a condition of no part passes")
	}
}
