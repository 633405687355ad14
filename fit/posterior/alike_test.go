package posterior

import (
	"math"
	"testing"
)

// Hypotheses that are alike answer as if each had been computed, and cost what one does.
func TestAlike(t *testing.T) {
	p := bench(t, 10e3, 47e3, 109.9e-9, 1e-3)
	hs := []Hypothesis{{Odds: 1, Prior: tolerance(0.01, 0.01, 0.1)}, {Odds: 0.3, Prior: tolerance(0.05, 0.05, 0.2)}, {Odds: 0.1, Prior: tolerance(0.05, 0.05, 0.2)}}
	apart, err := Run(p, hs)
	if err != nil {
		t.Fatal(err)
	}
	hs[1].Alike, hs[2].Alike = "both", "both"
	alike, err := Run(p, hs)
	if err != nil {
		t.Fatal(err)
	}
	weight := make([]float64, len(hs))
	for _, s := range alike.Samples {
		weight[s.Hypothesis] += s.Weight
	}
	for i := range hs {
		if a, b := apart.Outcomes[i].Probability, alike.Outcomes[i].Probability; !(math.Abs(a-b) <= 0.01) || !(math.Abs(weight[i]-b) <= 1e-6) {
			t.Errorf("hypothesis %d: %.4f apart, %.4f alike, its samples weigh %.4f", i, a, b, weight[i])
		}
	}
	if r := alike.Outcomes[1].Probability / alike.Outcomes[2].Probability; !(math.Abs(r-3) <= 1e-9) {
		t.Errorf("shared out %.6f : 1, want 3 : 1", r)
	}
	hs[1].Odds, hs[2].Odds = 0, 0
	if none, err := Run(p, hs); err != nil || none.Outcomes[0].Probability != 1 || none.Outcomes[1].Probability != 0 || none.Outcomes[2].Probability != 0 {
		t.Errorf("of no odds: %+v, %v", none.Outcomes, err)
	}
	if alike.Status.Evaluations >= apart.Status.Evaluations {
		t.Errorf("%d evaluations, %d where each is computed", alike.Status.Evaluations, apart.Status.Evaluations)
	}
}
