package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
	"offbeat/fit/transition"
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
	if z := math.Sqrt(ratio); !(z >= 0.5 && z <= 1.3) {
		t.Errorf("error of the period over its stated uncertainty has root mean square %.2f, want 0.5 to 1.3", z)
	}
}

// A period that drifts by some ten parts in a million bends the edges by a third of a cell, and in a train that creeps through one cell
// all the same none shows it: the few slips of rising and falling edges lie elsewhere, and the high time's error is 1.9 times what the
// cells alone leave.
func TestDriftHidesInTheCells(t *testing.T) {
	const trains, cycles = 30, 100
	var ratio float64
	for i := range trains {
		rnd := rand.New(rand.NewPCG(uint64(i), 3))
		high := 20 + 280*rnd.Float64()
		length := math.Round(high+20+280*rnd.Float64()) + 0.7*(1+0.3*rnd.Float64())/cycles
		bend, phase := 0.5*(2*rnd.Float64()-1), rnd.Float64()
		tr := train.New(true, false)
		var e []transition.Edge
		for k := range 2*cycles + 1 {
			at := float64(k/2)*length + float64(k%2)*high
			x := at / (cycles * length)
			e = append(e, transition.Edge{X: math.Ceil(phase+at+4*bend*x*(1-x)) - 0.5, Cell: 1, Slope: 1, Rise: k%2 == 0})
		}
		tr.Add(e)
		tr.End()
		r, err := Estimate(tr.Record(), Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		hh, _, _ := budget.Sum(r.Rows)
		ratio += (r.High - high) * (r.High - high) / hh / trains
	}
	if z := math.Sqrt(ratio); !(z >= 0.5 && z <= 1.6) {
		t.Errorf("error of the high time over its stated uncertainty has root mean square %.2f, want 0.5 to 1.6", z)
	}
}

// variance of the mean period that a result states.
func variance(r *Result) float64 { return period(r.Rows...) }
