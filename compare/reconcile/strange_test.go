package reconcile

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"offbeat/compare/comparetest"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// odd counts how often a sound part is blamed.
type odd struct {
	boards, half, nine int
	open               float64
	names              map[string]int
}

// count takes one board in, of which the guilty parts may be named.
func (o *odd) count(t *testing.T, d *fit.Design, m *fit.Measurement, guilty []string) {
	s, err := without(t.Context(), d, question.Observed([]*fit.Measurement{m}))
	if err != nil {
		t.Fatal(err)
	}
	o.boards++
	for _, c := range s.causes() {
		if c.Cause == "unexplained" {
			o.open += c.Probability
		}
		if len(c.Parts) == 0 || slices.ContainsFunc(c.Parts, func(q string) bool { return slices.Contains(guilty, q) }) || c.Probability < 0.5 {
			continue
		}
		o.half++
		o.names[c.Cause+fmt.Sprint(len(c.Parts))]++
		if c.Probability > 0.9 {
			o.nine++
		}
	}
}

func (o *odd) add(p odd) { o.boards, o.half, o.nine = o.boards+p.boards, o.half+p.half, o.nine+p.nine }

// TestStrange is a study of boards with faults that no listed cause holds: how often a sound part is blamed for them, in a
// world that the priors were looked at with, in one of other rules that was held out, and in a third with other wirings,
// silent families and parts of every class, half of whose kinds are kept apart. Of 10 boards of each of 50 kinds, on
// seeds that no prior was looked at with, a sound part was blamed with more than 0.5 in 16.0, 10.0, 10.0 and 11.7 %, in all
// 12.2 ± 1.5 %, with more than 0.9 in 0.6 ± 0.3 %: most of them where both times are off by one factor, which says C1 as long
// as nobody reads it.
func TestStrange(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_STRANGE"))
	if n == 0 {
		t.Skip("OFFBEAT_STRANGE=N runs N boards of each kind")
	}
	history := func(j int) string { return []string{fit.New, fit.Worked}[j/2%2] }
	world := func(name string, kinds int, board func(i, j int) (kind string, guilty []string, d *fit.Design, m *fit.Measurement)) {
		var all odd
		for i := range kinds {
			k, kind := odd{names: map[string]int{}}, ""
			for j := range n {
				var guilty []string
				var d *fit.Design
				var m *fit.Measurement
				kind, guilty, d, m = board(i, j)
				k.count(t, d, m, guilty)
			}
			t.Logf("%-38s blamed %2d, > 0.9 %2d of %d; unexplained %.2f %v", kind, k.half, k.nine, n, k.open/float64(n), k.names)
			all.add(k)
		}
		t.Logf("%s: in all %.1f %% > 0.5, %.1f %% > 0.9", name, 100*float64(all.half)/float64(all.boards), 100*float64(all.nine)/float64(all.boards))
	}
	world("known world", len(comparetest.Kinds), func(i, j int) (string, []string, *fit.Design, *fit.Measurement) {
		k := &comparetest.Kinds[i]
		family := []string{fit.CMOS, fit.Bipolar}[j%2]
		if slices.Contains(k.Circuits, "schmitt") {
			family = fit.CMOS
		}
		b, err := comparetest.StrangeBoard(rand.New(rand.NewPCG(uint64(i), uint64(j))), k, family)
		if err != nil {
			t.Fatal(err)
		}
		p := &b.Problem
		p.Design.Odds, p.Design.History, p.Design.Readings = nil, history(j), nil
		return k.Name, k.Guilty, &p.Design, &p.Measured
	})
	world("held out", len(comparetest.WiredKinds), func(i, j int) (string, []string, *fit.Design, *fit.Measurement) {
		k := &comparetest.WiredKinds[i]
		d, m := comparetest.WiredBoard(rand.New(rand.NewPCG(uint64(i), uint64(j)+1000)), k)
		d.History = history(j)
		return k.Name, k.Guilty, d, m
	})
	for half, name := range []string{"third world, looked at", "third world, kept apart"} {
		world(name, len(comparetest.PinnedKinds)/2, func(i, j int) (string, []string, *fit.Design, *fit.Measurement) {
			k := &comparetest.PinnedKinds[2*i+half]
			b, err := comparetest.PinnedBoard(rand.New(rand.NewPCG(uint64(2*i+half), uint64(j)+3000)), k)
			if err != nil {
				t.Fatal(err)
			}
			b.Design.History = history(j)
			return k.Name, k.Guilty, &b.Design, &b.Measured
		})
	}
}
