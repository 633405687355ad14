package retune

import (
	"math"
	"slices"
	"testing"

	"offbeat/compare/series"
	"offbeat/fit"
)

// TestPairsAgainstAllPairs tries every pair there is of each series and compares the best three's errors. 9.4k has two exact pairs
// of E24, one of them of equal parts. Resistances in series add and capacitances in parallel.
func TestPairsAgainstAllPairs(t *testing.T) {
	for _, p := range []fit.Part{{Kind: fit.Resistor, Minus: 0.01, Plus: 0.01}, {Kind: fit.Capacitor, Class: "film", Minus: 0.1, Plus: 0.1}, {Kind: fit.Capacitor, Class: "electrolytic"}} {
		for _, wanted := range []float64{48.53e3, 1e3, 777, 9.99e-8, 9.4e3} {
			got := (&tuner{parts: []fit.Part{p}}).pairs(0, wanted)
			for tier, s := range []series.Series{series.E12, series.E24} {
				for how, joined := range map[topology][2]func(a, b float64) float64{
					inSeries:   {fit.Resistor: func(a, b float64) float64 { return a + b }, fit.Capacitor: func(a, b float64) float64 { return 1 / (1/a + 1/b) }},
					inParallel: {fit.Resistor: func(a, b float64) float64 { return 1 / (1/a + 1/b) }, fit.Capacitor: func(a, b float64) float64 { return a + b }},
				} {
					var want, here []float64
					all := s.Between(wanted/50, wanted*50)
					for i, a := range all {
						for _, b := range all[i:] {
							want = append(want, math.Abs(math.Log(joined[p.Kind](a, b)/wanted)))
						}
					}
					slices.Sort(want)
					for _, m := range got {
						if m.topology == how && m.parts[0].rank == tier {
							here = append(here, math.Abs(math.Log(joined[p.Kind](m.parts[0].value, m.parts[1].value)/wanted)))
						}
					}
					if p.Class == "electrolytic" && how == inSeries {
						want = want[:0]
					}
					if len(here) != min(3, len(want)) {
						t.Fatalf("%+v, %v, tier %d in %s: %d pairs", p, wanted, tier, how, len(here))
					}
					for i := range here {
						if !(math.Abs(here[i]-want[i]) <= 1e-12) { // two ways of adding the reciprocals: a few ULP
							t.Errorf("%+v, %v, tier %d in %s, place %d: %v, want %v", p, wanted, tier, how, i, here[i], want[i])
						}
					}
				}
			}
		}
	}
}

// One part of the drawer is in no pair with itself; of two that are alike each pair is there once.
func TestPairsOfOnePart(t *testing.T) {
	for count, want := range []int{1: 0, 2: 1} {
		d := &tuner{parts: []fit.Part{{Kind: fit.Resistor}}, options: Options{Stock: []Item{{Kind: fit.Resistor, Value: 10e3, Count: count}}}}
		if got := d.paired(0, 20e3, d.drawer(d.parts[0], false)); count > 0 && len(got) != 2*want {
			t.Errorf("%d in the drawer: %+v", count, got)
		}
	}
}
