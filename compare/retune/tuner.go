package retune

import (
	"math"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// target is one quantity of the design's target.
type target struct {
	quantity         int // its place among compare.Quantities
	value, low, high float64
	half             float64 // half the limits' distance, as a natural logarithm
}

// tuner holds what all candidates share.
type tuner struct {
	circuit *circuit.Circuit
	parts   []fit.Part
	targets []target
	options Options
	limits  *limits
	boards  []board

	work     circuit.Values // scratch of one prediction
	middling board          // scratch: a board whose chances all lie in the middle
}

func middle(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	slices.Sort(x)
	return x[len(x)/2]
}
