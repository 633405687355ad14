package change

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

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
	l := s.weigh([]weighed{{}}, s.candidates(places), nil)
	at := s.settle(noise{}, 0, l.at[:1])
	if year := nile.Nile.First_year + at[0] - 1; year != nile.Nile.Last_year_before_change {
		t.Errorf("the flow changes after %d, published is %d", year, nile.Nile.Last_year_before_change)
	}
	b := s.basis(w, 0)
	b.add(w.white(s.form(at)))
	y := w.white(s.y)
	b.off(y)
	expect.Near(t, "twice the log likelihood ratio", float64(len(y))*math.Log(floats.Dot(base, base)/floats.Dot(y, y)), nile.Nile.Two_log_LR, 1e-6)
}

// signal is a train of 57.3 and 91.1 units a cycle with its noise.
type signal struct {
	white, step float64 // standard deviation of white edge noise, and of the random step of each half cycle
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
		c := train.Cycle{Rise: edge(), Index: float64(i), N: 1, Start: i == 0}
		at += 57.3*h + s.step*rnd.NormFloat64()
		c.Fall = edge()
		at += 91.1*l + s.step*rnd.NormFloat64()
		out = append(out, c)
	}
	return out
}

// steady draws the noise of a steady train, of any size, and how its times drift: by the share d(x) at the place x of the record.
var steady = map[string]func(rnd *rand.Rand) (s signal, drift func(x float64) float64){
	"jitter": func(rnd *rand.Rand) (signal, func(float64) float64) { return signal{white: 0.3 * rnd.Float64()}, level },
	"walk":   func(rnd *rand.Rand) (signal, func(float64) float64) { return signal{step: 0.3 * rnd.Float64()}, level },
	"both": func(rnd *rand.Rand) (signal, func(float64) float64) {
		return signal{white: 0.3 * rnd.Float64(), step: 0.3 * rnd.Float64()}, level
	},
	"drift": func(rnd *rand.Rand) (signal, func(float64) float64) {
		return signal{white: 0.3 * rnd.Float64(), step: 0.1 * rnd.Float64()}, slope(rnd)
	},
	"drift with a walk": func(rnd *rand.Rand) (signal, func(float64) float64) {
		return signal{step: 0.3 * rnd.Float64()}, slope(rnd)
	},
	"warming up": func(rnd *rand.Rand) (signal, func(float64) float64) {
		size, rate := 1e-4*math.Pow(300, rnd.Float64()), 0.5+3*rnd.Float64()
		return signal{white: 0.3 * rnd.Float64(), step: 0.1 * rnd.Float64()}, func(x float64) float64 { return size * math.Exp(-rate*x) }
	},
	"rounded": func(rnd *rand.Rand) (signal, func(float64) float64) {
		return signal{cell: 1, white: rnd.Float64() * rnd.Float64() * 0.5}, level
	},
	"rounded coarsely": func(rnd *rand.Rand) (signal, func(float64) float64) {
		s := commensurate(rnd)
		s.white = s.cell * rnd.Float64() * rnd.Float64() * 0.5
		return s, level
	},
	"rounded coarsely, drift": func(rnd *rand.Rand) (signal, func(float64) float64) { return commensurate(rnd), slope(rnd) },
	"rounded with a walk": func(rnd *rand.Rand) (signal, func(float64) float64) {
		return signal{cell: 1, step: 0.2 * rnd.Float64()}, level
	},
}

func level(float64) float64 { return 0 }

// commensurate is a train whose period is near some whole number of cells, and a half, a third, a fourth or a fifth.
func commensurate(rnd *rand.Rand) signal {
	return signal{cell: 148.4 / (3 + math.Floor(40*rnd.Float64()) + [...]float64{0, 1. / 2, 1. / 3, 1. / 4, 1. / 5}[rnd.IntN(5)] + 0.01*rnd.NormFloat64())}
}

func slope(rnd *rand.Rand) func(x float64) float64 {
	size := 1e-4 * math.Pow(300, rnd.Float64())
	return func(x float64) float64 { return size * x }
}

// TestSteadyTrainsDoNotChange: one in 1,000 at most; OFFBEAT_STUDY is how many trains of each class are drawn, by seeds that tuned
// nothing.
func TestSteadyTrainsDoNotChange(t *testing.T) {
	trains, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	study := trains > 0
	if !study {
		trains = 40
	}
	found, all := 0, 0
	for name, draw := range steady {
		own := 0
		for seed := range uint64(trains) {
			rnd := rand.New(rand.NewPCG(seed, 2025))
			s, drift := draw(rnd)
			n := int(12 * math.Pow(40, rnd.Float64()))
			if Find(s.cycles(rnd, n, func(i int) (float64, float64) { f := 1 + drift(float64(i)/float64(n)); return f, f }), s.cell) != nil {
				own++
				t.Logf("%s, seed %d, %d cycles: %+v", name, seed, n, s)
			}
		}
		found, all = found+own, all+trains
		if study {
			fmt.Printf("%-23s %d of %d trains change\n", name, own, trains)
		}
	}
	if want := float64(all) / 1000; float64(found) > want+3*math.Sqrt(want) {
		t.Errorf("%d of %d steady trains change", found, all)
	}
}

// TestFromFiveUncertainties: a jump of eight, or a jump and a return of fourteen, of the standard uncertainties that the noise, were it
// known, would leave of its size beside a drift, is found as often as is asked here. White edge noise hides most of five in what a
// train that warms up does, a walk less: no method that keeps to one false finding in a thousand of those, and does not know the
// noise, finds all of five.
func TestFromFiveUncertainties(t *testing.T) {
	trains, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	study := trains > 0
	if !study {
		trains = 10
	}
	for name, least := range map[string]float64{"jitter": 0.5, "walk": 0.8, "both": 0.7} {
		s := map[string]signal{"jitter": {white: 0.3}, "walk": {step: 0.3}, "both": {white: 0.3, step: 0.1}}[name]
		for back, to := range []float64{2, 0.7} {
			for _, n := range []int{40, 200} {
				for _, z := range map[bool][]float64{false: {8 + 6*float64(back)}, true: {4, 5, 5.5, 6, 8, 14}}[study] {
					found := 0
					size := z * s.jump(n, 0.4, to) / 148.4
					for seed := range uint64(trains) {
						if Find(s.cycles(rand.New(rand.NewPCG(seed, uint64(n))), n, func(i int) (float64, float64) {
							if x := float64(i) / float64(n); x < 0.4 || x >= to {
								return 1, 1
							}
							return 1 + size, 1 + size
						}), 0) != nil {
							found++
						}
					}
					if study {
						fmt.Printf("%-8s %3d cycles, %s of %g u: %d of %d found\n", name, n, [2]string{"jump", "jump and return"}[back], z, found, trains)
					}
					if z >= 8+6*float64(back) && float64(found) < least*float64(trains) {
						t.Errorf("%s, %d cycles, return %v: %d of %d changes of %g standard uncertainties found", name, n, back > 0, found, trains, z)
					}
				}
			}
		}
	}
}

// jump is the standard uncertainty of a jump of the period at a share of n cycles, back at another, the noise being known and a drift free, by
// generalised least squares on the middles of the pulses: their covariance is written out, no filter is used.
func (s signal) jump(n int, at, back float64) float64 {
	v := mat.NewSymDense(n, nil)
	x := mat.NewDense(n, 4, nil)
	for i := range n {
		for j := range i + 1 {
			c := 2 * s.step * s.step * float64(j)
			if i == j {
				c += s.white * s.white / 2
			}
			v.SetSym(i, j, c+1e-9)
		}
		u := float64(i)
		x.SetRow(i, []float64{1, u, u * u, max(u-at*float64(n), 0) - max(u-back*float64(n), 0)})
	}
	var root, normal mat.Cholesky
	var w, a mat.Dense
	if !root.Factorize(v) || root.SolveTo(&w, x) != nil {
		return math.NaN()
	}
	a.Mul(x.T(), &w)
	information := mat.NewSymDense(4, nil)
	for i := range 4 {
		for j := range i + 1 {
			information.SetSym(i, j, a.At(i, j))
		}
	}
	var all mat.SymDense
	if !normal.Factorize(information) || normal.InverseTo(&all) != nil {
		return math.NaN()
	}
	return math.Sqrt(all.At(3, 3))
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

// Rounding of a period near a whole number of cells and a half alternates; that is no noise that would dither it away.
func TestDither(t *testing.T) {
	for _, parts := range []float64{1, 2, 3, 5} {
		for _, white := range []float64{0, 0.5, 1} {
			cell := 148.4 / (7 + 1/parts + 1e-4)
			s := signal{cell: cell, white: white * cell}
			p, _ := newPoints(s.cycles(rand.New(rand.NewPCG(3, 7)), 400, func(int) (float64, float64) { return 1, 1 }))
			if got := p.dither(cell); math.Abs(got-white*white) > 0.05+0.25*white*white {
				t.Errorf("periods of 7 cells and 1/%g, jitter of %g cells: dither of %.3g cells²", parts, white, got)
			}
		}
	}
}
