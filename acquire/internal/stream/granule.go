package stream

import "slices"

// granules are the steps, in counts of the last printed digit, that counters move in: powers of two where a
// prescaled timer is printed in microseconds, powers of ten where printed digits are padding.
var granules = [...]int64{2, 4, 5, 8, 10, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 128, 200, 250, 256, 500, 512, 1000, 1024}

const (
	granuleLook  = 4096 // differences looked at
	granuleFew   = 32   // fewer than this show nothing
	granuleShare = 0.98 // of them that a granule must divide: a few may be garbled
	granuleKinds = 6    // different differences that there must be: a train without jitter has two, which always have a common step
)

// granule finds the greatest common step of the printed times.
type granule struct {
	n     int
	hits  [len(granules)]int
	kinds []int64 // the first different differences
}

// add takes a difference of two times, in counts of the last digit.
func (g *granule) add(d int64) {
	if d == 0 || g.n >= granuleLook {
		return
	}
	g.n++
	if len(g.kinds) < granuleKinds && !slices.Contains(g.kinds, d) {
		g.kinds = append(g.kinds, d)
	}
	for i, s := range granules {
		if d%s == 0 {
			g.hits[i]++
		}
	}
}

// counts is the common step, 1 where none shows.
func (g *granule) counts() int64 {
	if g.n < granuleFew || len(g.kinds) < granuleKinds {
		return 1
	}
	best := int64(1)
	for i, s := range granules {
		if float64(g.hits[i]) >= granuleShare*float64(g.n) {
			best = s
		}
	}
	return best
}
