package posterior

import (
	"math"
	"math/cmplx"
	"testing"
)

// Replicates tell the error that they have in common by how it scatters between them, so a wave that the lattice does not see must
// stand anywhere in each: the mean of four such is 1/2 (root mean square of random directions), and 1 where all see the same.
func TestReplicatesShareNoWave(t *testing.T) {
	const dims = 24
	shifts := make([][]float64, replicates)
	for r := range shifts {
		shifts[r] = newLattice(dims, 64, r, 0).shift
	}
	square, n := 0.0, 0.0
	for a := range dims {
		for b := range a {
			if c := a + b + 1; c < dims {
				mean := 0i
				for _, s := range shifts {
					mean += cmplx.Rect(1./replicates, 2*math.Pi*(s[a]+s[b]-s[c]))
				}
				square, n = square+real(mean*cmplx.Conj(mean)), n+1
			}
		}
	}
	if rms := math.Sqrt(square / n); !(rms > 0.4 && rms < 0.6) {
		t.Errorf("the mean of a wave over the replicates is %.2f, root mean square of %.0f; expected about 0.5", rms, n)
	}
}

// No two coordinates of a lattice go in step, however many there are: that would tie the unknowns to each other.
func TestCoordinatesGoApart(t *testing.T) {
	steps := map[int]bool{}
	l := newLattice(3*len(generator), 2048, 0, 0)
	for _, s := range l.step {
		steps[s&2047] = true
		if s%2 == 0 {
			t.Errorf("step %d meets only some of the points", s)
		}
	}
	if len(steps) < len(l.step)-2 { // chance
		t.Errorf("%d of %d steps differ", len(steps), len(l.step))
	}
}
