package reconcile

import (
	"math"
	"testing"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/posterior"
)

// What is said of a part that is likely sound hangs on many rare causes: other lattices, with nothing of the board changed, say the
// same within a tenth of it or a thousandth, whichever is larger.
func TestTailsRepeat(t *testing.T) {
	for _, n := range []fittest.Network{soundNetwork, altered(func(n *fittest.Network) { n.R1 = 13.4e3 })} {
		d := design("astable")
		d.Family = fit.Bipolar
		w := usualScope.record(t, n, 7)
		_, e, err := SolveWith(d, []question.Observation{{Measurement: w.Measurement, Waveform: w}})
		if err != nil {
			t.Fatal(err)
		}
		outside := func(seed uint64) []float64 {
			p := *e.Problem
			p.Seed = seed
			r, err := posterior.Run(&p, question.Hypotheses(e.Cases))
			if err != nil {
				t.Fatal(err)
			}
			s := solved{Question: question.Question{Board: e.Board, Problem: &p, Cases: e.Cases}, result: r}
			if err := s.loosen(&s.causes(asked{})[0]); err != nil {
				t.Fatal(err)
			}
			weight := 0.0
			for _, q := range s.result.Samples {
				weight += q.Weight
			}
			if !(math.Abs(weight-1) <= 1e-4) {
				t.Errorf("the samples' weights sum to %v", weight)
			}
			var out []float64
			for _, q := range s.parts() {
				out = append(out, q.OutOfTolerance)
			}
			return out
		}
		want := outside(0)
		for seed := range uint64(1) {
			for i, p := range outside(seed + 1) {
				if !(math.Abs(p-want[i]) <= max(0.1*want[i], 0.001)) {
					t.Errorf("%s out of tolerance: %.4f, with other lattices %.4f", e.Board.Parts[i].Name, want[i], p)
				}
			}
		}
	}
}
