package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/cell"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// TestSecondRunStartsWithHalfACycle: where cycles are averaged already, a run that begins with a falling edge must
// still count as a new one; the gap before it is none of the train's times. Truth: 3 high, 5 low, as made.
func TestSecondRunStartsWithHalfACycle(t *testing.T) {
	const high, low, cycles = 3.0, 5.0, 4096
	rnd := rand.New(rand.NewPCG(1, 2))
	tr := train.New(true, false)
	var e []transition.Edge
	x := 1.0
	for range 2 {
		for i := range 2 * cycles {
			rise := i%2 == 1 // the first edge of a run falls
			e = append(e, transition.Edge{X: x + 0.01*rnd.NormFloat64(), Cell: 0.001, Slope: 1, Rise: rise})
			if x += low; rise {
				x += high - low
			}
		}
		e = append(e, transition.Edge{X: x, Break: true})
		x += 1234.5
	}
	tr.Add(e)
	tr.End()
	record := tr.Record()
	starts := 0
	for _, c := range record.Cycles {
		if c.Start {
			starts++
		}
	}
	if starts != 2 {
		t.Errorf("%d runs in the store, want 2", starts)
	}
	r, err := Estimate(record, Known{Lattice: cell.Lattice{Cell: 0.001, Sharpness: [2]float64{1, 1}}})
	if err != nil {
		t.Fatal(err)
	}
	// The mean of 8192 pulses with white edge noise of 0.01: 0.01·√2/√8192 = 1.6e-4 at most.
	if !(math.Abs(r.High-high) <= 5*1.6e-4) || !(math.Abs(r.Low-low) <= 5*1.6e-4) {
		t.Errorf("high %.6f, low %.6f, want %g and %g", r.High, r.Low, high, low)
	}
}
