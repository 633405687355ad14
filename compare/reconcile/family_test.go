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
		if len(f.Families) != 2 || !(math.Abs(total-1) <= 1e-9) {
			t.Errorf("families %+v", f.Families)
		}
	}
}

// The thresholds of Schmitt inverters lie wide apart from maker to maker, and what nothing explains spreads about all of them: a
// board in the middle of the sheets is sound. None has so little hysteresis (at least 0.40 V at 4.5 V, MC74VHC1G14 p. 3) that a
// board twelve times too fast is.
func TestSchmittThresholds(t *testing.T) {
	for _, x := range []struct {
		ohm         float64
		least, most float64 // probability that nothing is wrong
		unexplained float64 // at most
	}{{10e3, 0.8, 1, 0.03}, {10e3 / 12, 0, 0.01, 0.05}} {
		d := design("schmitt")
		d.Family = fit.CMOS
		d.Parts = []fit.Part{{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1}}
		f := run(t, d, integrate(t, fittest.Network{Circuit: fittest.Schmitt, Supply: 5, R1: x.ohm, C: 100e-9, Upper: 0.6, Lower: 0.36}))
		p := map[string]float64{}
		for _, c := range f.Causes {
			p[c.Cause] += c.Probability
		}
		if p[cause.Nothing] < x.least || p[cause.Nothing] > x.most || p[cause.Unexplained] > x.unexplained {
			t.Errorf("R1 %g Ω: nothing wrong %.3f, unexplained %.3f", x.ohm, p[cause.Nothing], p[cause.Unexplained])
		}
	}
}
