package reconcile

import (
	"maps"
	"math"
	"slices"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
)

// Half-cycles as short as the comparator's delay: the overshoot turns the other half-cycle within the range of a shifted
// part, so that the ends of that range bound nothing. Shifted R2, and shifted R1 and R2, were once taken for impossible
// here; long importance sampling says 0.065 and 0.045.
func TestOvershootTurnsTheTimes(t *testing.T) {
	astable := func(r1, t1, r2, t2, c, tc, supply, half float64, odds map[string]float64) *fit.Design {
		part := func(name string, kind fit.PartKind, nominal, tolerance float64) fit.Part {
			return fit.Part{Name: name, Kind: kind, Nominal: nominal, Minus: tolerance, Plus: tolerance}
		}
		all := map[string]float64{}
		for _, c := range cause.All() {
			if c.Name != cause.Nothing {
				all[c.Key] = 0
			}
		}
		maps.Copy(all, odds)
		return &fit.Design{Circuit: "astable", Family: fit.Bipolar, History: fit.New, Odds: all, Supply: fit.Reading{Name: "supply", Value: supply, Half: half},
			Parts: []fit.Part{part("R1", fit.Resistor, r1, t1), part("R2", fit.Resistor, r2, t2), part("C1", fit.Capacitor, c, tc)}}
	}
	measured := func(high, uHigh, low, uLow, covariance, clock float64) *fit.Measurement {
		return &fit.Measurement{High: fit.Estimate{Value: high, Uncertainty: uHigh, Count: 100}, Low: fit.Estimate{Value: low, Uncertainty: uLow, Count: 100},
			Covariance: covariance, Clock: clock, Cycles: 100}
	}
	check := func(d *fit.Design, m *fit.Measurement, want float64, parts ...string) {
		t.Helper()
		got, err := Run(d, []*fit.Measurement{m})
		if err != nil {
			t.Fatal(err)
		}
		if p := probability(got, "shifted", parts); !(math.Abs(p-want) <= 0.01) {
			t.Errorf("shifted %v: %.4f, the reference says %.3f", parts, p, want)
		}
	}
	d := astable(36e3, 0.2, 1.3e3, 0.05, 1e-9, 0.02, 12, 0.6, map[string]float64{"thresholds": 0.003468, "other_value.C1": 0.006745, "exchanged": 0.1533,
		"other_value.R1": 0.006028, "other_value.R2": 0.1223, "leakage": 0.05223, "clock": 0.4227, "shifted.R1": 0.00437, "shifted.R2": 0.2033,
		"discharge": 0.02538, "unexplained": 0.01026, "shifted.C1": 0.006672, "two_shifted": 0.006489})
	d.Readings = []fit.Reading{{Name: "R1", Value: 28946.341552198046, Half: 123.5329946771807}}
	check(d, measured(2.281641564e-05, 4.757e-09, 1.185029997e-06, 8.32e-11, 1.979e-19, 0.005), 0.065, "R2")
	d = astable(240e3, 0.02, 1.5e3, 0.05, 7.5e-9, 0.001, 9, 0.18, map[string]float64{"clock": 0.01119, "exchanged": 0.07478, "two_shifted": 0.4689,
		"leakage": 0.174, "discharge": 0.003173, "unexplained": 0.009715, "other_value.C1": 0.4646, "thresholds": 0.1342, "shifted.R2": 0.03923,
		"other_value.R2": 0.4122, "shifted.R1": 0.3818, "other_value.R1": 0.03062, "shifted.C1": 0.01656})
	check(d, measured(0.001510955422, 1.475e-07, 8.557285451e-06, 3.404e-09, 2.5114e-16, 5e-05), 0.045, "R1", "R2")
}

// probability finds an explanation's probability among a finding's causes.
func probability(f *compare.Finding, name string, parts []string) float64 {
	for _, k := range f.Causes {
		if k.Cause == name && slices.Equal(slices.Sorted(slices.Values(k.Parts)), slices.Sorted(slices.Values(parts))) {
			return k.Probability
		}
	}
	return 0
}
