package change

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit/train"
)

// TestNile: annual flow at Aswan 1871 to 1970 (Cobb, Biometrika 65 (1978) 243), published change after 1898, in
// testdata/published/changepoint.toml with the statistics of the likeliest change recomputed there.
func TestNile(t *testing.T) {
	var nile struct {
		Nile struct {
			First_year, Last_year_before_change int
			Flow                                []float64
			Two_log_LR                          float64 `toml:"two_log_LR"`
		}
	}
	expect.Values(t, "changepoint.toml", &nile)
	var p points
	for i, y := range nile.Nile.Flow {
		p.index, p.high, p.count = append(p.index, float64(i)), append(p.high, y), append(p.count, 1)
	}
	s := p.highs()
	w := s.filter(noise{})
	base := w.white(s.y)
	s.basis(w, 0).off(base)
	at, _, _ := s.scan(noise{}, 0, s.candidates())
	at = s.settle(noise{}, 0, at)
	if year := nile.Nile.First_year + at[0] - 1; year != nile.Nile.Last_year_before_change {
		t.Errorf("the flow changes after %d, published is %d", year, nile.Nile.Last_year_before_change)
	}
	b := s.basis(w, 0)
	b.add(w.white(s.form(at)))
	y := w.white(s.y)
	b.off(y)
	expect.Near(t, "twice the log likelihood ratio", worth(floats.Dot(y, y), len(y), w)-worth(floats.Dot(base, base), len(base), w), nile.Nile.Two_log_LR, 1e-6)
}

// signal is a train of 57.3 and 91.1 units a cycle with its noise.
type signal struct {
	white, step float64 // standard deviation of white edge noise, and of the random step of each half cycle
	drift       float64 // relative, over the record
	cell        float64
}

func (s signal) cycles(rnd *rand.Rand, n int, factor func(i int) (high, low float64)) (out []train.Cycle) {
	at := 10 * rnd.Float64()
	edge := func() float64 {
		x := at + s.white*rnd.NormFloat64()
		if s.cell > 0 {
			x = math.Floor(x/s.cell) * s.cell
		}
		return x
	}
	for i := range n {
		h, l := factor(i)
		grown := 1 + s.drift*float64(i)/float64(n)
		c := train.Cycle{Rise: edge(), Index: float64(i), N: 1, Start: i == 0}
		at += 57.3*h*grown + s.step*rnd.NormFloat64()
		c.Fall = edge()
		at += 91.1*l*grown + s.step*rnd.NormFloat64()
		out = append(out, c)
	}
	return out
}

// signals are the steady trains: jitter, walk, both, drift, and edges that are rounded.
var signals = map[string]signal{
	"jitter": {white: 0.3}, "walk": {step: 0.3}, "both": {white: 0.3, step: 0.1}, "drift": {white: 0.3, drift: 0.01},
	"small drift with a walk": {step: 0.3, drift: 1e-3}, "rounded": {cell: 1}, "rounded with a walk": {cell: 1, step: 0.05},
	"rounded with jitter": {cell: 1, white: 0.1},
}

// TestSteadyTrainsDoNotChange: the study of 1,000 each found one in 1,000 at most.
func TestSteadyTrainsDoNotChange(t *testing.T) {
	for name, s := range signals {
		for _, n := range []int{12, 60, 300} {
			found := 0
			for seed := range uint64(25) {
				if Find(s.cycles(rand.New(rand.NewPCG(seed, uint64(n))), n, func(int) (float64, float64) { return 1, 1 }), s.cell) != nil {
					found++
				}
			}
			if found > 1 {
				t.Errorf("%s, %d cycles: %d of 25 steady trains change", name, n, found)
			}
		}
	}
}

// TestChangesAreFound: a jump, a jump and a return and several to and fro, of the period or of the duty factor alone, are
// found where they are, whatever the length of the record.
func TestChangesAreFound(t *testing.T) {
	for name, s := range map[string]signal{"jitter": {white: 0.3}, "walk": {step: 0.3}, "both": {white: 0.3, step: 0.1}, "rounded": {cell: 1, white: 0.05}} {
		for _, n := range []int{40, 200, 2000} {
			for _, places := range [][]float64{{0.4}, {0.3, 0.6}, {0.2, 0.5, 0.8}} {
				for _, duty := range []bool{false, true} {
					if len(places) > 2 && (n < 200 || duty) {
						continue // short stretches to and fro are a wander
					}
					got := Find(s.cycles(rand.New(rand.NewPCG(uint64(n), 5)), n, func(i int) (float64, float64) {
						k := 0
						for k < len(places) && float64(i) >= places[k]*float64(n) {
							k++
						}
						if k%2 == 0 {
							return 1, 1
						}
						if duty {
							return 1.05, 1 - 0.05*57.3/91.1
						}
						return 1.02, 1.02
					}), s.cell)
					if len(got) != len(places)+1 {
						t.Errorf("%s, %d cycles, changes at %v, of the duty factor alone %v: %d stretches", name, n, places, duty, len(got))
						continue
					}
					length := float64(n) * 148.4 * 1.01
					for i, p := range places {
						if at := (got[i].To + got[i+1].From) / 2 / length; math.Abs(at-p) > 0.03+2/float64(n) {
							t.Errorf("%s, %d cycles: change at %.3f of the record, is at %.3f", name, n, at, p)
						}
					}
				}
			}
		}
	}
}

// A train in which some cycles are missing is numbered through; one with odd gaps, or with next to no cycles, is left alone.
func TestGaps(t *testing.T) {
	s := signal{white: 0.1}
	all := s.cycles(rand.New(rand.NewPCG(1, 1)), 100, func(i int) (float64, float64) {
		if i < 50 {
			return 1, 1
		}
		return 1.02, 1.02
	})
	gap := slices.Delete(slices.Clone(all), 20, 24)
	gap[20].Start = true
	if got := Find(gap, 0); len(got) != 2 {
		t.Errorf("with four cycles missing: %d stretches", len(got))
	}
	odd := slices.Clone(gap)
	for i := 20; i < len(odd); i++ {
		odd[i].Rise, odd[i].Fall = odd[i].Rise+70, odd[i].Fall+70
	}
	for name, c := range map[string][]train.Cycle{"odd gap": odd, "none": nil, "one": all[:1], "seven": all[:7]} {
		if got := Find(c, 0); got != nil {
			t.Errorf("%s: %d stretches", name, len(got))
		}
	}
}
