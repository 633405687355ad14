package cause

import (
	"math"
	"testing"

	"offbeat/fit"
)

// A diode that is not drawn is asked for where it can conduct and the board runs: across R2 of an astable either way round, beside a
// drawn one the other way alone; across R1 or C1 it blocks, or stops the board. One way has half the odds.
func TestDiodeWhereItConducts(t *testing.T) {
	for name, ways := range map[string]map[float64]bool{"astable": {1: true, -1: true}, "astable-diode": {-1: true}, "multivibrator": {}} {
		d := design(name)
		d.Family = fit.Bipolar
		found := map[float64]bool{}
		b := board(t, d)
		v, err := b.Circuit.Typical(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range b.Cases() {
			if k.Cause != diode.Name {
				continue
			}
			if k.Parts[0] != "R2" || !(math.Abs(k.Odds-0.0025) < 1e-12) {
				t.Errorf("%s: a diode across %v, odds %v", name, k.Parts, k.Odds)
			}
			found[k.Parameters[1].Of(&v)] = true
		}
		if len(found) != len(ways) || found[1] != ways[1] || found[-1] != ways[-1] {
			t.Errorf("%s: ways %v, want %v", name, found, ways)
		}
	}
}
