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
