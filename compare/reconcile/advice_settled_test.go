package reconcile

import (
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/nextreading"
	"offbeat/fit/fittest"
)

// The advice stops where one cause leads by the user's threshold: its repair and the check after it, or nothing where nothing
// is wrong; below the threshold it is a reading.
func TestAdviceStops(t *testing.T) {
	leaky := integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 98e-9, Leak: 300e3, Supply: 5})
	sound := integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5})
	kinds := func(next []compare.Next) string {
		var all []string
		for _, n := range next {
			all = append(all, n.Kind)
		}
		return strings.Join(all, ", ")
	}
	d := design("astable")
	d.Odds = map[string]float64{"unexplained": 0} // the advice is what is tested, not how sure a lone leak can be
	for _, c := range []struct {
		name      string
		threshold float64
		want      string
	}{{"leaky", 0, "repair, check"}, {"leaky", 0.6, "repair, check"}, {"sound", 0.6, ""}} {
		d.Settled = c.threshold
		from := leaky
		if c.name == "sound" {
			from = sound
		}
		f := run(t, d, from)
		if got := kinds(f.Next); got != c.want || f.Causes[0].Probability < c.threshold {
			t.Errorf("%s from %v on: %q, want %q (%s)", c.name, c.threshold, got, c.want, f.Finding)
		}
	}
	d.Settled = 0.9999999
	if f := run(t, d, leaky); slices.ContainsFunc(f.Next, func(n compare.Next) bool { return n.Kind == nextreading.Repair }) {
		t.Errorf("a threshold that is not reached: %+v", f.Next)
	}
}
