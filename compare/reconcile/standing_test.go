package reconcile

import (
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/wiring"
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

// What a record without pulses says of a design's board: for how long, at which of its own levels, or that it says nothing.
func TestStandingOfARecord(t *testing.T) {
	d := ladder(t) // some 5.6 ms a cycle, from 5 V
	for _, c := range []struct {
		seen     measure.Still
		inverted bool
		state    int
		ok       bool
	}{
		{measure.Still{Seconds: 1, Level: 0.1}, false, -1, true},
		{measure.Still{Seconds: 1, Level: 4.8}, false, 1, true},
		{measure.Still{Seconds: 1, Level: -4.8}, true, -1, true},
		{measure.Still{Seconds: 1, Level: 0.1}, true, 1, true},
		{measure.Still{Seconds: 1, Level: 0.1, State: 1, Moved: true}, false, 1, true},
		{measure.Still{Seconds: 0.01, Level: 0.1}, false, 0, false},
	} {
		still, why, ok := Standing(d, &c.seen, c.inverted)
		if ok != c.ok || ok && (still.State != c.state || still.Seconds != c.seen.Seconds || still.Seen == c.seen.Moved) || !ok && !strings.Contains(why, "4 periods of the design") {
			t.Errorf("%+v: %+v, %q, %v", c, still, why, ok)
		}
	}
	d.Circuit, d.Wiring = "monostable", nil
	d.Parts = []fit.Part{{Name: "R1", Nominal: 1e4, Minus: 0.01, Plus: 0.01}, {Name: "C1", Nominal: 1e-7, Kind: fit.Capacitor, Minus: 0.1, Plus: 0.1}}
	if _, why, ok := Standing(d, &measure.Still{Seconds: 100}, false); ok || !strings.Contains(why, "trigger") {
		t.Errorf("a board that waits for its trigger: %q, %v", why, ok)
	}
}

// In a capture it may be that nothing of the board is in it, which is looked at first; and the level tells a capacitor that never
// charges from one that never discharges.
func TestStandingInACapture(t *testing.T) {
	d := ladder(t)
	for state, want := range map[int]struct{ part, cause, other, do string }{
		wiring.StandsHigh: {"C1", "bridged", "R1", "probe"},
		wiring.StandsLow:  {"R1", "bridged", "C1", "supply"},
	} {
		d.Stills = []fit.Still{{Seconds: 1, State: state, Seen: true}}
		f := runWith(t, d)
		p := map[string]float64{}
		for _, c := range f.Causes {
			p[c.Cause+strings.Join(c.Parts, "")] = c.Probability
		}
		if p[want.cause+want.part] < 10*p[want.cause+want.other] || p["wrong signal"] < 0.1 || !strings.Contains(f.Next[0].Reading, want.do) {
			t.Errorf("standing at %d: %v, %+v", state, p, f.Next[0])
		}
		if d.Stills[0].Seen = false; state == wiring.StandsHigh {
			continue
		}
		for _, c := range runWith(t, d).Causes {
			if c.Cause == "wrong signal" && c.Probability > 0.02 {
				t.Errorf("as the user saw it, standing at %d: %+v", state, c)
			}
		}
	}
}
