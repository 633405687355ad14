package reconcile

import (
	"math"
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
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
	d.Odds = map[string]float64{"unexplained": 0, "current": 0} // the advice is what is tested, not how sure a lone leak can be
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
	d.Settled, d.Targets = 0.9999999, []fit.Target{{Quantity: "frequency", Value: 137.5, Low: 120, High: 155}}
	if f := run(t, d, sound); len(f.Next) > 0 {
		t.Errorf("on target, most likely nothing wrong: %+v", f.Next)
	}
	d.Settled, d.Targets = 0.6, []fit.Target{{Quantity: "frequency", Value: 150, Low: 146, High: 154}}
	if f := run(t, d, sound); kinds(f.Next) != nextreading.Refit {
		t.Errorf("off target with nothing wrong: %+v", f.Next)
	}
	d.Settled, d.Targets = 0.9999999, nil
	if f := run(t, d, leaky); slices.ContainsFunc(f.Next, func(n compare.Next) bool { return n.Kind == nextreading.Repair }) {
		t.Errorf("a threshold that is not reached: %+v", f.Next)
	}
}

// What a look promises is what it gives, by brute force: solved again with either outcome seen, the entropy of the causes
// falls on average by the bits that were promised, and the chance of an outcome is what the causes make it.
func TestALookGivesWhatItPromises(t *testing.T) {
	d := design("astable")
	m := integrate(t, fittest.Network{Circuit: "astable", R1: 10e3, R2: 47e3, C: 104e-9, Leak: 900e3, Supply: 5})
	before, err := without(t.Context(), d, []question.Observation{{Measurement: m}})
	if err != nil {
		t.Fatal(err)
	}
	entropy := func(s *solved) (h float64) {
		share := map[string]float64{}
		for i, k := range s.explanations() {
			share[k] += s.result.Outcomes[i].Probability
		}
		for _, p := range share {
			if p > 0 {
				h -= p * math.Log2(p)
			}
		}
		return h
	}
	tried := 0
	for _, n := range nextreading.Rank(before.bench(), before.result, before.explanations(), 99) {
		if n.Kind != nextreading.Look {
			continue
		}
		tried++
		l := cause.LookNamed(strings.Fields(strings.TrimPrefix(n.Enter, `--look "`))[0])
		if l == nil {
			l = cause.LookNamed("control pin")
		}
		chance := 0.0
		for i := range before.Cases {
			chance += before.result.Outcomes[i].Probability * before.Board.Finds(l, n.Part, &before.Cases[i])
		}
		left := 0.0
		for found, p := range map[bool]float64{true: chance, false: 1 - chance} {
			seen := *d
			seen.Looks = []fit.Look{{Name: l.Name, Part: n.Part, Found: found}}
			after, err := without(t.Context(), &seen, []question.Observation{{Measurement: m}})
			if err != nil {
				t.Fatal(err)
			}
			left += p * entropy(after)
		}
		if got := entropy(before) - left; !(math.Abs(got-n.Information) <= 0.01) {
			t.Errorf("%s promises %.3f bit and gives %.3f", n.Enter, n.Information, got)
		}
	}
	if tried == 0 {
		t.Error("no look was offered")
	}
}
