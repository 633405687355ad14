package reconcile

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// warmed is a measurement of a board whose parts follow a temperature, each cycle timed by integrating Kirchhoff's law.
func warmed(t *testing.T, change func(n *fittest.Network, kelvin float64), at func(t float64) float64) *fit.Measurement {
	t.Helper()
	const jitter = 1e-7 // s, of each edge
	rnd := rand.New(rand.NewPCG(1, 19))
	m := &fit.Measurement{Low: fit.Estimate{Count: 1}}
	now, rise := 0.0, 0.0
	for range 400 {
		n := soundNetwork
		change(&n, at(now)-fit.ReferenceTemperature)
		high, low, err := fittest.Integrate(n)
		if err != nil {
			t.Fatal(err)
		}
		fall := now + high + jitter*rnd.NormFloat64()
		next := now + high + low + jitter*rnd.NormFloat64()
		m.Series.Start, m.Series.High, m.Series.Low = append(m.Series.Start, rise), append(m.Series.High, fall-rise), append(m.Series.Low, next-fall)
		now, rise = now+high+low, next
	}
	return m
}

// The drift against a temperature column is the part's own coefficient, and the part is named: the ratio of the two
// times' drifts tells a resistor from the capacitor. All of R1, R2 and C1 share the coefficient's limits, so only the
// times tell them apart.
func TestDriftNamesThePart(t *testing.T) {
	warm := func(t float64) float64 { return 25 + 8*math.Sin(3*t) }
	for part, change := range map[string]func(n *fittest.Network, kelvin float64){
		"R1": func(n *fittest.Network, kelvin float64) { n.R1 *= 1 + 80e-6*kelvin },
		"R2": func(n *fittest.Network, kelvin float64) { n.R2 *= 1 + 80e-6*kelvin },
		"C1": func(n *fittest.Network, kelvin float64) { n.C *= 1 + 80e-6*kelvin },
	} {
		d := design("astable")
		for i := range d.Parts {
			d.Parts[i].Tempco = 70e-6
		}
		s := course.Explained(d, []compare.Capture{{Stability: course.Of(warmed(t, change, warm), warm, 0)}})
		if s == nil || !s.Drift.Seen || len(s.Drift.Causes) == 0 {
			t.Fatalf("%s: %+v", part, s)
		}
		top := s.Drift.Causes[0]
		// The sensitivities are those of the nominal parts and the typical timer, about 2 % from this board's.
		if top.Part != part || !top.Plausible || !(math.Abs(top.Value-80e-6) <= 4*top.Uncertainty+0.02*80e-6) || top.Uncertainty > 5e-6 {
			t.Errorf("%s follows by 80 ppm/K; found %+v", part, top)
		}
		for _, other := range s.Drift.Causes[1:] {
			if other.Plausible {
				t.Errorf("%s follows; %s counts as plausible too: %+v", part, other.Part, other)
			}
		}
	}
}

// Without a change there is no drift, and no part is named; over time the least warming that would do it is.
func TestDriftOnlyWhereSeen(t *testing.T) {
	d := design("astable")
	still := warmed(t, func(*fittest.Network, float64) {}, func(float64) float64 { return 25 })
	s := course.Explained(d, []compare.Capture{{}, {Stability: course.Of(still, nil, 0)}})
	if s == nil || s.Drift.Seen || len(s.Drift.Causes) > 0 {
		t.Errorf("a still board: %+v", s)
	}
	if got := course.Of(still, func(float64) float64 { return 25 }, 0); got.Drift.Told() {
		t.Errorf("a drift against a temperature that stands still: %+v", got)
	}
	// The capacitor warms by 6 K over the record, at 300 ppm/K.
	rate := 6 / 2.9
	rising := warmed(t, func(n *fittest.Network, kelvin float64) { n.C *= 1 + 300e-6*kelvin }, func(t float64) float64 { return 25 + rate*t })
	d.Part("C1").Tempco = 300e-6
	s = course.Explained(d, []compare.Capture{{Stability: course.Of(rising, nil, 0)}})
	if !s.Drift.Seen || !(math.Abs(s.Drift.Value-300e-6*rate) <= 4*s.Drift.Uncertainty+1e-3*300e-6*rate) {
		t.Fatalf("drift %+v, want %g/s", s.Drift, 300e-6*rate)
	}
	top := s.Drift.Causes[0]
	// Its coefficient is known to a fifth, so the least warming is 1/1.2 of 300e-6 times the record's kelvin.
	if want := rate * s.Drift.Range / 1.2; top.Part != "C1" || !(math.Abs(*top.Warming/want-1) <= 0.02) {
		t.Errorf("%+v needs %.3g K, want C1 with %.3g K", top, *top.Warming, want)
	}
}
