package steady

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"offbeat/fit/transition"
)

// edgesOf draws edges of a train in runs of so many, with gaps between.
func edgesOf(rnd *rand.Rand, runs, each int) (x []float64, first []bool) {
	at := rnd.Float64()
	for range runs {
		for i := range each {
			at += 3 + rnd.Float64()
			x, first = append(x, at), append(first, i == 0)
		}
		at += 50
	}
	return x, first
}

// A census of few edges lists what lies between neighbours of a run, and its gaps; runs of edges added at once are those added one by one.
func TestCensus(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, each := range []int{1, 2, 7, 41, 300} {
		x, first := edgesOf(rnd, 5, each)
		var c, d Census
		var want [kinds][]float64
		rise, idle := -1, 0.0
		var gaps []gap
		for i := range x {
			up := i%2 == 0
			c.Add(x[i], up, first[i])
			if first[i] && i > 0 {
				gaps, idle = append(gaps, gap{x[i] - x[i-1], up, each}), idle+x[i]-x[i-1]
			}
			if first[i] {
				rise = -1
			} else {
				k := lows
				if i%2 == 1 {
					k = highs
				}
				want[k] = append(want[k], x[i]-x[i-1])
			}
			if up {
				if rise >= 0 {
					want[periods] = append(want[periods], x[i]-x[rise])
				}
				rise = i
			}
		}
		for i := 0; i < len(x); i += each {
			d.Add(x[i], i%2 == 0, true)
			var run []transition.Edge
			for k := i + 1; k < i+each; k++ {
				run = append(run, transition.Edge{X: x[k], Rise: k%2 == 0})
			}
			d.AddRun(run)
		}
		for k, got := range c.intervals() {
			all := []float64{}
			for _, v := range got {
				all = append(all, v...)
			}
			if len(all) != len(want[k]) || len(all) > 0 && !reflect.DeepEqual(all, want[k]) {
				t.Errorf("runs of %d: kind %d has %d intervals, want %d", each, k, len(all), len(want[k]))
			}
		}
		if !reflect.DeepEqual(c.gaps, gaps) || c.runs != 4 || c.inRuns != 4*each || c.idle != idle || c.count != 5*each || c.run != each || c.last != x[len(x)-1] || c.origin != x[0] {
			t.Errorf("runs of %d: %d gaps, %d runs of %d edges, idle for %g of %g", each, len(c.gaps), c.runs, c.inRuns, c.idle, idle)
		}
		if !reflect.DeepEqual(c.blocks, d.blocks) || !reflect.DeepEqual(c.gaps, d.gaps) || c.count != d.count || c.run != d.run {
			t.Errorf("runs of %d: added at once they are others", each)
		}
	}
}

// A census of many keeps whole blocks of neighbours, as far apart as must be: one in one, two or four.
func TestCensusIsBounded(t *testing.T) {
	var c Census
	for i := range 60_000 {
		c.Add(float64(i), i%2 == 0, false)
		if len(c.blocks) > maxBlocks {
			t.Fatalf("%d blocks of %d edges", len(c.blocks), i)
		}
	}
	if c.every != 4 || len(c.blocks) != 59 {
		t.Errorf("%d blocks, one in %d", len(c.blocks), c.every)
	}
	for k, b := range c.blocks {
		for i, e := range b {
			if e.x != float64(4*k*blockEdges+i) || e.rise != (i%2 == 0) {
				t.Fatalf("edge %d of block %d is %+v", i, k, e)
			}
		}
	}
	for k, lists := range c.intervals() {
		for i, v := range lists {
			if n := len(v); n != map[bool]int{true: 127, false: 128}[k != highs] && i < 58 {
				t.Errorf("kind %d: list %d has %d values", k, i, n)
			}
		}
		if len(lists) != 59 {
			t.Errorf("kind %d: %d lists of 59 blocks", k, len(lists))
		}
	}
	for range 3000 {
		c.Add(c.last+100, true, true)
	}
	if len(c.gaps) != maxGaps || c.runs != 3000 || c.idle != 300_000 {
		t.Errorf("%d gaps kept of %d, idle for %g", len(c.gaps), c.runs, c.idle)
	}
}
