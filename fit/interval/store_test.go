package interval

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/transition"
)

// TestSecondRunStartsWithHalfACycle: where cycles are averaged already, a run that begins with a falling edge must
// still count as a new one; the gap before it is none of the train's times. Truth: 3 high, 5 low, as made.
func TestSecondRunStartsWithHalfACycle(t *testing.T) {
	const high, low, cycles = 3.0, 5.0, 2 * storeCap
	rnd := rand.New(rand.NewPCG(1, 2))
	tr := NewTrain(true, false)
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
	starts := 0
	for _, c := range tr.store.cycles {
		if c.start {
			starts++
		}
	}
	if starts != 2 {
		t.Errorf("%d runs in the store, want 2", starts)
	}
	r, err := tr.Estimate(Known{Lattice: Lattice{Cell: 0.001, Sharpness: [2]float64{1, 1}}})
	if err != nil {
		t.Fatal(err)
	}
	// The mean of 8192 pulses with white edge noise of 0.01: 0.01·√2/√8192 = 1.6e-4 at most.
	if math.Abs(r.High-high) > 5*1.6e-4 || math.Abs(r.Low-low) > 5*1.6e-4 {
		t.Errorf("high %.6f, low %.6f, want %g and %g", r.High, r.Low, high, low)
	}
}

// TestSteadyTrainIsTheSame: pulses taken two edges at a time leave the store as edges taken one by one do.
func TestSteadyTrainIsTheSame(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	var e []transition.Edge
	x := 0.0
	for i := range 60000 {
		x += 3 + 2*float64(i%2) + 0.1*rnd.NormFloat64()
		g := transition.Edge{X: x, Cell: 1, Slope: 1, Rise: i%2 == 0}
		switch {
		case i%5000 == 4321, i%5000 == 4322: // a pulse is lost
		case i%7000 == 6543: // a glitch
			e = append(e, g, transition.Edge{X: x + 0.1, Slope: 1, Rise: !g.Rise}, transition.Edge{X: x + 0.2, Slope: 1, Rise: g.Rise})
		case i%20011 == 9999:
			e = append(e, transition.Edge{X: x, Break: true})
		default:
			e = append(e, g)
		}
	}
	whole, single := NewTrain(true, false), NewTrain(true, false)
	for i := 0; i < len(e); i += 10000 {
		whole.Add(e[i:min(i+10000, len(e))])
	}
	whole.End()
	single.pending = e[:firstChunk]
	single.usual, single.keep = usual(e[:10000]), chatters(e[:10000], usual(e[:10000]))
	single.hold = false // takes the long way
	single.begun = true
	single.pending = e
	single.work(true)
	single.endRun()
	a, b := &whole.store, &single.store
	if whole.Faults != single.Faults || a.edges != b.edges || a.whole != b.whole || a.cycle2 != b.cycle2 || a.level != b.level || len(a.cycles) != len(b.cycles) || len(a.series.start) != len(b.series.start) {
		t.Fatalf("%+v %d %v %d, one by one %+v %d %v %d", whole.Faults, a.edges, a.whole, a.cycle2, single.Faults, b.edges, b.whole, b.cycle2)
	}
	if whole.Faults.Glitches == 0 || whole.Faults.Unknown == 0 || whole.OddGaps+whole.Faults.Dropped == 0 {
		t.Errorf("the train holds no faults: %+v", whole.Faults)
	}
	for i := range a.cycles {
		if a.cycles[i] != b.cycles[i] {
			t.Fatalf("cycle %d: %+v, one by one %+v", i, a.cycles[i], b.cycles[i])
		}
	}
	for k := range whole.slopes {
		if whole.slopes[k] != single.slopes[k] {
			t.Errorf("slopes %+v, one by one %+v", whole.slopes[k], single.slopes[k])
		}
	}
}
