package posterior

import (
	"math"
	"testing"

	"offbeat/fit/circuit"
)

// Hypotheses that explain nothing share their boards where those are the same to the last bit, whatever their misfit, and only
// there: each has the evidence that it has alone.
func TestSharedBoards(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-3)
	p.Extra = []float64{1}
	other := *p.Circuit
	base := p.Base
	base[0] *= 2
	of := func(change func(h *Hypothesis)) Hypothesis {
		h := Hypothesis{Odds: 1, Prior: tolerance(0.05, 0.05, 0.2), Unexplained: true, Misfit: []Misfit{{Share: 1, High: 0.3, Low: 0.2}}}
		change(&h)
		return h
	}
	half := Variable{Slot: Extra(0), Density: Normal(1, 0.5)}
	same := []Hypothesis{
		of(func(*Hypothesis) {}),
		of(func(h *Hypothesis) {
			h.Misfit = []Misfit{{Share: 0.5, High: 0.1, Low: 1}, {Share: 0.5, High: 1, Low: 1, Both: 9}}
		}),
	}
	apart := []Hypothesis{
		of(func(h *Hypothesis) { h.Prior = tolerance(0.05, 0.05, 0.1) }),
		of(func(h *Hypothesis) { h.Prior[2] = Normal(math.Log(100e-9), 0.1) }),
		of(func(h *Hypothesis) { h.Prior[2] = Normal(math.Log(100e-9), 0.2) }),
		of(func(h *Hypothesis) { h.Circuit = &other }),
		of(func(h *Hypothesis) { h.Base = &base }),
		of(func(h *Hypothesis) { h.Override = []Variable{half} }),
		of(func(h *Hypothesis) { h.Base, h.Nuisance = &base, []Variable{half} }),
		of(func(h *Hypothesis) { h.Fixed = []Fixed{{Extra(0), 2}} }),
		of(func(h *Hypothesis) { h.Tie = func(v *circuit.Values) { v[0] *= 1.1 } }),
		of(func(h *Hypothesis) {
			h.See = func(_ *circuit.Values, h, l float64) (float64, float64, bool) { return 1.1 * h, l, true }
		}),
		of(func(h *Hypothesis) { h.Unexplained = false }),
	}
	all := append(same, apart...)
	rooms := shared(all)
	for i := range all {
		for k := range i {
			if got, want := rooms[i] != nil && rooms[i] == rooms[k], i == 1; got != want {
				t.Errorf("hypotheses %d and %d share boards: %v", k, i, got)
			}
		}
	}
	r, err := Run(p, all)
	if err != nil {
		t.Fatal(err)
	}
	for i := range all {
		alone, err := Run(p, all[i:i+1])
		if err != nil {
			t.Fatal(err)
		}
		if got, want := r.Outcomes[i].LogEvidence, alone.Outcomes[0].LogEvidence; all[i].Unexplained && got != want {
			t.Errorf("hypothesis %d: log evidence %v, alone %v", i, got, want)
		}
	}
}

// What is known of a hypothesis counts beside the others as if it were computed, but is not, and brings no samples.
func TestKnownIsNotComputedAgain(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-3)
	all := []Hypothesis{{Odds: 1, Prior: tolerance(0.05, 0.05, 0.2)}, {Odds: 0.5, LogFactor: 0.3, Prior: tolerance(0.1, 0.05, 0.1)}}
	want, err := Run(p, all)
	if err != nil {
		t.Fatal(err)
	}
	all[1].Known = &want.Outcomes[1]
	got, err := Run(p, all)
	if err != nil {
		t.Fatal(err)
	}
	share := 0.0
	for _, s := range got.Samples {
		share += s.Weight
		if s.Hypothesis == 1 {
			t.Fatal("samples of what is known")
		}
	}
	for i := range all {
		close(t, "probability", got.Outcomes[i].Probability, want.Outcomes[i].Probability, 1e-3)
	}
	close(t, "weight of the other", share, want.Outcomes[0].Probability, 1e-3)
	if got.Status.Evaluations > want.Status.Evaluations*2/3 {
		t.Errorf("%d evaluations of the law, %d where nothing is known", got.Status.Evaluations, want.Status.Evaluations)
	}
}
