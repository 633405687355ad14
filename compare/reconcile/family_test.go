package reconcile

import (
	"math"
	"testing"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// A family that is not said counts as each that suits: a sound board of either is a sound board, and each is said with what follows.
func TestAFamilyThatIsNotSaid(t *testing.T) {
	for _, n := range []fittest.Network{
		{Circuit: "astable", Supply: 5, R1: 10e3, R2: 47e3, C: 1e-9, OnResistance: 25, DelayFall: 1.1e-6, DelayRise: 0.5e-6, Bias: 100e-9, Saturation: 0.02},
		{Circuit: "astable", Supply: 5, R1: 10e3, R2: 47e3, C: 1e-9, OnResistance: 25, DelayFall: 0.2e-6, DelayRise: 0.2e-6},
	} {
		d := design("astable")
		d.Parts[2].Nominal, d.Parts[2].Minus, d.Parts[2].Plus = 1e-9, 0.01, 0.01
		d.Family, d.AnyFamily = fit.Bipolar, true
		f := run(t, d, integrate(t, n))
		if f.Causes[0].Cause != cause.Nothing || f.Causes[0].Probability < 0.8 {
			t.Errorf("a sound board is %+v", f.Causes[0])
		}
		total := 0.0
		for _, x := range f.Families {
			total += x.Probability
		}
		if len(f.Families) != 2 || math.Abs(total-1) > 1e-9 {
			t.Errorf("families %+v", f.Families)
		}
	}
}
