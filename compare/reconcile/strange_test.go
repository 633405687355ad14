package reconcile

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"offbeat/compare/comparetest"
	"offbeat/fit"
)

// TestStrange is a study of boards with faults that no listed cause holds: how often a sound part is blamed for them.
func TestStrange(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_STRANGE"))
	if n == 0 {
		t.Skip("OFFBEAT_STRANGE=N runs N boards of each kind")
	}
	all, half, nine := 0, 0, 0
	for i := range comparetest.Kinds {
		k := &comparetest.Kinds[i]
		blamed, sure, open := 0, 0, 0.0
		names := map[string]int{}
		for j := range n {
			family := []string{fit.CMOS, fit.Bipolar}[j%2]
			if slices.Contains(k.Circuits, "schmitt") {
				family = fit.CMOS
			}
			b := comparetest.StrangeBoard(rand.New(rand.NewPCG(uint64(i), uint64(j))), k, func(circuit string) []comparetest.Term { return terms(t, circuit, family) })
			p := pose(&b, family)
			p.Design.Odds = nil
			p.Design.History = []string{fit.New, fit.Worked}[j/2%2]
			p.Design.Readings = nil
			f, err := Run(&p.Design, []*fit.Measurement{&p.Measured})
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range f.Causes {
				if c.Cause == "unexplained" {
					open += c.Probability
				}
				sound := len(c.Parts) > 0 && !slices.ContainsFunc(c.Parts, func(q string) bool { return slices.Contains(k.Guilty, q) })
				if sound && c.Probability > 0.5 {
					blamed++
					names[c.Cause+fmt.Sprint(len(c.Parts))]++
				}
				if sound && c.Probability > 0.9 {
					sure++
				}
			}
		}
		t.Logf("%-34s blamed %2d, > 0.9 %2d of %d; unexplained %.2f %v", k.Name, blamed, sure, n, open/float64(n), names)
		all, half, nine = all+n, half+blamed, nine+sure
	}
	t.Logf("in all %.1f %% > 0.5, %.1f %% > 0.9", 100*float64(half)/float64(all), 100*float64(nine)/float64(all))
}
