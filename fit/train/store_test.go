package train

import (
	"math/rand/v2"
	"testing"

	"offbeat/fit/transition"
)

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
	whole, single := New(true, false), New(true, false)
	for i := 0; i < len(e); i += 10000 {
		whole.Add(e[i:min(i+10000, len(e))])
	}
	whole.End()
	single.pending = e[:firstChunk]
	single.usual, _ = usual(e[:10000])
	single.keep = chatters(e[:10000], single.usual)
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
