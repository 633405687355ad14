package comparetest_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"offbeat/compare/comparetest"
	"offbeat/compare/reconcile"
	"offbeat/fit"
)

// odd counts how often a sound part is blamed.
type odd struct {
	boards, half, nine int
	open               float64
	names              map[string]int
}

// count takes one board in, of which the guilty parts, or the cause that is right, may be named.
func (o *odd) count(t *testing.T, d *fit.Design, m *fit.Measurement, guilty []string) {
	f, err := reconcile.Run(d, []*fit.Measurement{m})
	if err != nil {
		t.Fatal(err)
	}
	o.boards++
	for _, c := range f.Causes {
		if c.Cause == "unexplained" {
			o.open += c.Probability
		}
		if len(c.Parts) == 0 || slices.Contains(guilty, c.Cause) || slices.ContainsFunc(c.Parts, func(q string) bool { return slices.Contains(guilty, q) }) || c.Probability < 0.5 {
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

// TestStrange is a study of boards with faults that no listed cause holds: how often a sound part is blamed for them, in five
// worlds, of which no prior was looked at with two. OFFBEAT_STRANGE=N takes N boards of each kind, OFFBEAT_STRANGE_SEED others.
// Of 20 boards of each of 74 kinds from seed 50000 on, a sound part was blamed with more than 0.5 in 7.3, 7.7, 6.2, 10.0 and 6.7 %
// of the worlds as they are listed, in all in 7.4 ± 0.7 %, with more than 0.9 in 0.3 ± 0.2 %: most of them where both times are
// off by one factor, which says C1 as long as nobody reads it.
func TestStrange(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_STRANGE"))
	if n == 0 {
		t.Skip("OFFBEAT_STRANGE=N runs N boards of each kind")
	}
	seed, _ := strconv.ParseUint(os.Getenv("OFFBEAT_STRANGE_SEED"), 10, 64)
	worlds := map[string]*odd{}
	for i := range comparetest.Kinds {
		k, one := &comparetest.Kinds[i], odd{names: map[string]int{}}
		for j := range n {
			b, err := comparetest.StrangeBoard(rand.New(rand.NewPCG(uint64(i), seed+uint64(j))), k)
			if err != nil {
				t.Fatal(err)
			}
			b.Design.History = []string{fit.New, fit.Worked}[j%2]
			one.count(t, &b.Design, &b.Measured, k.Guilty)
		}
		t.Logf("%-17s %-38s blamed %2d, > 0.9 %2d of %d; unexplained %.2f %v", k.World, k.Name, one.half, one.nine, n, one.open/float64(n), one.names)
		if worlds[k.World] == nil {
			worlds[k.World] = &odd{}
		}
		worlds[k.World].add(one)
	}
	for _, name := range comparetest.Worlds {
		w := worlds[name]
		t.Logf("%s: of %d boards a sound part blamed with more than 0.5 in %.1f %%, with more than 0.9 in %.1f %%", name, w.boards, 100*float64(w.half)/float64(w.boards), 100*float64(w.nine)/float64(w.boards))
	}
}
