package reconcile

import (
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/fit"
)

// A board that stands still has a part missing or bridged, a discharge too weak, or what nobody listed, each by how often that
// happens; one that would run with the fault is none of them. What was read of a part tells it is there.
func TestStandingStill(t *testing.T) {
	d := ladder(t)
	d.Stills = []fit.Still{{Seconds: 60}}
	d.Targets = []fit.Target{{Quantity: "frequency", Value: 180, Low: 170, High: 190}}
	probability := func(f *compare.Finding, name string, parts ...string) float64 {
		for _, c := range f.Causes {
			if c.Cause == name && (len(parts) == 0 || c.Parts[0] == parts[0]) {
				return c.Probability
			}
		}
		return 0
	}
	before := runWith(t, d)
	first := probability(before, "missing", "R1")
	for _, part := range []string{"R2", "C1"} {
		if p := probability(before, "missing", part); p < 0.1 || p > 1.02*first || p < 0.98*first {
			t.Errorf("%s missing %.3f, R1 missing %.3f: as often", part, p, first)
		}
	}
	for _, runs := range []float64{probability(before, "missing", "R3"), probability(before, "nothing"), probability(before, "shifted", "C1"), probability(before, "contact", "C1")} {
		if runs > 0.02 {
			t.Errorf("a board that runs stands still: %.3f", runs)
		}
	}
	// The divider's lower part gone keeps the board running; its ends joined hold the control pin at ground.
	for _, want := range []struct{ cause, part, why string }{{"bridged", "R3", "above the lower threshold of 0.00 V"}, {"missing", "R1", "away from the upper threshold"},
		{"discharge", "", "would settle at "}} {
		at := slices.IndexFunc(before.Causes, func(c compare.Cause) bool {
			return c.Cause == want.cause && (want.part == "" || c.Parts[0] == want.part)
		})
		if at < 0 || !strings.Contains(before.Causes[at].Detail, want.why) {
			t.Errorf("%s %s does not say %q: %+v", want.cause, want.part, want.why, before.Causes)
		}
	}
	if before.Verdict.Result != "fail" || len(before.Next) == 0 || !before.Parts[0].Unsupported {
		t.Errorf("verdict %+v, next %d, parts %+v", before.Verdict, len(before.Next), before.Parts[0])
	}
	d.Readings = []fit.Reading{{Name: "R1", Value: 10e3, Half: 50}}
	if p := probability(runWith(t, d), "missing", "R1"); p > 0.15*first {
		t.Errorf("R1 missing %.3f after it was read, %.3f before", p, first)
	}
}
