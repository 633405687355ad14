package cell

import "testing"

// By Parseval's theorem the harmonics of the rounding error make up its variance; of edges with samples on their slope, whose error has
// no step, the first sixty-four leave less than a hundredth.
func TestHarmonicsMakeUpTheVariance(t *testing.T) {
	for _, sharp := range []float64{0.9, 0.7, 0.55} {
		l := Lattice{Cell: 1, Sharpness: [2]float64{sharp, sharp}}
		if _, rest := l.Harmonics(64); rest[1] > 0.01*l.Variance()[1] {
			t.Errorf("sharpness %g: %.3g of the variance %.3g is left", sharp, rest[1], l.Variance()[1])
		}
	}
}
