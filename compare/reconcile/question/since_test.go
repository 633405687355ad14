package question

import (
	"slices"
	"testing"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// What a cause of any circuit changes is among what may have changed since an earlier visit: one that is not would be written into
// another quantity's place.
func TestEveryFaultMayHaveHappenedSince(t *testing.T) {
	cases := 0
	for _, c := range circuit.All() {
		d := &fit.Design{Circuit: c.Name, Family: c.Default, Supply: fit.Reading{Name: "supply", Value: 5, Half: 0.1}}
		for _, p := range c.Parts {
			part := fit.Part{Name: p.Name, Kind: p.Kind, Nominal: 22e3, Minus: 0.05, Plus: 0.05}
			if p.Kind == fit.Capacitor {
				part.Nominal = 10e-9
			}
			d.Parts = append(d.Parts, part)
		}
		b, err := cause.NewBoard(d)
		if err != nil {
			t.Fatal(err)
		}
		b.Waveform = true
		for _, k := range b.Cases() {
			for _, v := range k.Override {
				if cases++; !slices.Contains(faultsOf(b), v.Slot) {
					t.Errorf("%s, %s %v: slot %d", c.Name, k.Cause, k.Parts, v.Slot)
				}
			}
		}
	}
	if cases < 50 {
		t.Errorf("only %d", cases)
	}
}
