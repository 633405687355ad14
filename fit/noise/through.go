package noise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/fit/train"
)

const (
	inStep   = 0.1  // of a period, that each run lies from a train that goes on through the gaps, at most
	byLuck   = 1e-6 // probability of as many runs as near to one by chance, below which they are taken for one train
	asSteady = 4.0  // times the variance within the runs and of a cell, that the variance about such a train may be
)

// through joins the runs of a train that goes on through its gaps, as behind a gate: where each run begins a whole number of
// periods after the one before, as near as its own edges lie, and not always the same number, as where each starts the train
// anew, the cycles are numbered on. Runs that keep in step with the samples are all rounded alike, and none shows it by itself.
func through(cycles []train.Cycle, cell float64) []train.Cycle {
	var index, rise [][]float64 // of the cycles of each run
	for i, c := range cycles {
		if i == 0 || c.Start {
			index, rise = append(index, nil), append(rise, nil)
		}
		if c.N > 1 {
			return cycles
		}
		if k := len(index) - 1; !math.IsNaN(c.Rise) {
			index[k], rise[k] = append(index[k], c.Index), append(rise[k], c.Rise)
		}
	}
	var square, both, own, freedom float64
	for k := range index {
		n := float64(len(index[k]) - 1)
		if n < 0 || len(index) < 3 {
			return cycles
		} else if n == 0 {
			continue
		}
		square, both = square+n*stat.Variance(index[k], nil), both+n*stat.Covariance(index[k], rise[k], nil)
		own, freedom = own+n*stat.Variance(rise[k], nil), freedom+n
	}
	period := both / square
	own = (own-period*both)/freedom + cell*cell/12
	base, steps := make([]float64, len(index)), make([]float64, 0, len(index))
	for k := 1; k < len(index); k++ {
		step := (stat.Mean(rise[k], nil)-stat.Mean(rise[k-1], nil))/period - stat.Mean(index[k], nil) + stat.Mean(index[k-1], nil)
		whole := math.Round(step)
		if math.Abs(step-whole) > inStep {
			return cycles
		}
		base[k] = base[k-1] + whole
		steps = append(steps, whole)
	}
	if luck := math.Pow(4*math.Sqrt(own)/period, float64(len(steps)-1)); luck > byLuck || slices.Min(steps) == slices.Max(steps) {
		return cycles
	}
	for k := range index {
		for i := range index[k] {
			index[k][i] += base[k]
		}
	}
	at, seen := slices.Concat(index...), slices.Concat(rise...)
	from, period := stat.LinearRegression(at, seen, nil, false)
	off := 0.0
	for i := range at {
		off += math.Pow(seen[i]-from-period*at[i], 2) / float64(len(at)-2)
	}
	if off > asSteady*own {
		return cycles
	}
	out, k := slices.Clone(cycles), -1
	for i := range out {
		if i == 0 || out[i].Start {
			k++
		}
		out[i].Start = i == 0
		out[i].Index += base[k]
	}
	return out
}
