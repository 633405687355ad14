package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// Edges that walk within their cells: by the cells, whose sides are sharp, the walk is plain, and by rounding taken as normal noise the
// train would pass for steady, and its error would be 2.5 times what is stated.
func TestWalkShowsInTheCells(t *testing.T) {
	const trains, cycles = 20, 150
	ratio := 0.0
	for i := range trains {
		rnd := rand.New(rand.NewPCG(uint64(i), 19))
		high, period, x := 30+10*rnd.Float64(), 60+rnd.Float64(), rnd.Float64()
		at := func(x float64) float64 { return math.Floor(x+0.05*rnd.NormFloat64()) + 0.5 }
		var c []train.Cycle
		for k := range cycles {
			rise := at(x)
			x += high + 0.03*rnd.NormFloat64()
			c = append(c, train.Cycle{Rise: rise, Fall: at(x), N: 1, Index: float64(k), Start: k == 0})
			x += period - high + 0.03*rnd.NormFloat64()
		}
		r, err := Estimate(&train.Record{Cycles: c, Sample: c, Whole: cycles - 1, Highs: cycles, Lows: cycles - 1},
			Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		e := r.High + r.Low - period
		ratio += e * e / variance(r) / trains
	}
	if z := math.Sqrt(ratio); !(z >= 0.5 && z <= 1.3) {
		t.Errorf("error of the period over its stated uncertainty has root mean square %.2f, want 0.5 to 1.3", z)
	}
}
