package stream

import (
	"math/rand/v2"
	"testing"
)

func TestGranule(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	jitter := func() int64 { return int64(rng.NormFloat64() * 20) }
	for _, c := range []struct {
		name string
		n    int
		diff func(i int) int64
		want int64
	}{
		{"microseconds", 1000, func(i int) int64 { return 3000 + jitter() }, 1},
		{"steps of 4", 1000, func(i int) int64 { return 3000 + 4*jitter() }, 4},
		{"steps of 10", 1000, func(i int) int64 { return 3000 + 10*jitter() }, 10},
		{"steps of 4, one in a hundred garbled", 1000, func(i int) int64 {
			if i%100 == 7 {
				return 3001
			}
			return 3000 + 4*jitter()
		}, 4},
		{"no jitter: two durations have a small common step by chance", 1000, func(i int) int64 { return 4010 - 700*int64(i&1) }, 1},
		{"no jitter: two durations hardly have a large one so", 1000, func(i int) int64 { return 4000 - 1500*int64(i&1) }, 500},
		{"four durations", 1000, func(i int) int64 { return 3000 + 10*int64(i&3) }, 10},
		{"too few", 20, func(i int) int64 { return 3000 + 4*jitter() }, 1},
	} {
		var g granule
		for i := range c.n {
			g.add(c.diff(i))
		}
		if got := g.counts(); got != c.want {
			t.Errorf("%s: step of %d counts, want %d", c.name, got, c.want)
		}
	}
}
