package stability

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/fit"
)

// Blocks of simulated trains scatter about the period that was put in as their uncertainty says, whatever the noise. 2400
// values: a root mean square of 1 ± 0.03.
func TestBlocksAreHonest(t *testing.T) {
	for _, noise := range [][2]float64{{2e-6, 0}, {0, 2e-6}, {1e-6, 1e-6}} {
		d := Drift{White: fit.Estimate{Value: noise[0]}, Walk: fit.Estimate{Value: noise[1]}}
		sum, n := 0.0, 0
		for seed := range uint64(100) {
			for _, b := range Blocks(train(480, 0, noise[0], noise[1], func(t float64) float64 { return t }, seed), func(t float64) float64 { return t }, 24, nil) {
				e := (b.Period - 7.2e-3) / b.Uncertainty(&d)
				sum, n = sum+e*e, n+1
			}
		}
		if rms := math.Sqrt(sum / float64(n)); n < 2300 || rms < 0.95 || rms > 1.05 {
			t.Errorf("noise %v: error over uncertainty %.3f over %d blocks", noise, rms, n)
		}
	}
}

// A drift of a third of a sample interval over the record shows in the blocks of times that are rounded to the interval, where
// single cycles show two rows of dots.
func TestBlocksShowADriftUnderRounding(t *testing.T) {
	const cell, slope = 20e-6, 1e-3 // 1/s: 7 µs of the period's 7.2 ms in a second
	s := train(1000, slope, 4e-6, 0, func(t float64) float64 { return t - 3.9 }, 3)
	for i := range s.Start {
		fall := s.Start[i] + s.High[i]
		s.Start[i], s.High[i] = cell*math.Round(s.Start[i]/cell), cell*math.Round(fall/cell)-cell*math.Round(s.Start[i]/cell)
	}
	var at, y []float64
	for _, b := range Blocks(s, func(t float64) float64 { return t }, 24, nil) {
		at, y = append(at, b.At), append(y, b.Period/7.2e-3)
	}
	if _, got := stat.LinearRegression(at, y, nil, false); !(math.Abs(got/slope-1) <= 0.1) {
		t.Errorf("slope of the blocks %.3g, want %.3g", got, slope)
	}
}

// No block spans a gap or a break, wherever they are; each cycle is in one block at most, and few are in none.
func TestBlocksStopAtBreaks(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		n := 30 + rng.IntN(300)
		s := train(n, 0, 0, 0, func(t float64) float64 { return t }, 1)
		cut := 1 + rng.IntN(n-1)
		for i := cut; i < n; i++ {
			s.Start[i] += 0.5
		}
		at := s.Start[rng.IntN(n)] + 1e-3
		blocks := Blocks(s, func(t float64) float64 { return t }, 1+rng.IntN(24), []float64{at})
		cycles := 0
		for _, b := range blocks {
			half := float64(b.Cycles) * 7.2e-3 / 2
			if b.At-half < at-7.2e-3 && b.At+half > at+7.2e-3 || !(math.Abs(b.Period/7.2e-3-1) <= 1e-9) {
				t.Fatalf("a block of %d cycles about %g s, period %g, spans the break at %g or a gap", b.Cycles, b.At, b.Period, at)
			}
			cycles += b.Cycles
		}
		if cycles > n-1 || !slices.IsSortedFunc(blocks, func(a, b Block) int { return map[bool]int{true: -1, false: 1}[a.At < b.At] }) {
			t.Fatalf("%d cycles in the blocks of %d", cycles, n)
		}
	}
}
