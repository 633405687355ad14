package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/cell"
)

// Periods near a whole number of samples need the posterior over the sample cells: edges creep through a cell or two over
// the record, so that rounding bends the line through them, and its error is 2.7 times what is stated.
func TestNearlyCommensurateNeedsTheCells(t *testing.T) {
	const trains, cycles = 30, 100
	var ratio float64
	for i := range trains {
		rnd := rand.New(rand.NewPCG(uint64(i), 3))
		high := 20 + 280*rnd.Float64()
		length := math.Round(high+20+280*rnd.Float64()) + 4*(rnd.Float64()-0.5)/cycles
		r, err := Estimate(grid(high, length-high, rnd.Float64(), cycles), Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		e := r.High + r.Low - length
		ratio += e * e / variance(r) / trains
	}
	if z := math.Sqrt(ratio); z < 0.5 || z > 1.3 {
		t.Errorf("error of the period over its stated uncertainty has root mean square %.2f, want 0.5 to 1.3", z)
	}
}

// variance of the mean period that a result states.
func variance(r *Result) float64 { return period(r.Rows...) }
