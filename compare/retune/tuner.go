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

// Options of Run. The zero value is the default.
type Options struct {
	// Stock is what there is; nil: preferred values alone, and no proposal says whether it is in stock.
	Stock []Item
	Count int    // proposals at most; 0: 8
	Seed  uint64 // of the Monte Carlo
}

// Item is one line of a stock list.
type Item struct {
	Kind        fit.PartKind
	Value       float64 // ohm or farad
	Minus, Plus float64 // relative tolerance, both positive; both 0: the design's own tolerance of the part
	Count       int     // how many there are; 0: enough
	Trimmer     bool    // Value is its full travel
}

const defaultCount = 8

// Sizes of the Monte Carlo. With 4096 boards a probability of 0.95 repeats to 0.0034, one of 0.999 to 0.0005.
const (
	boards    = 4096 // behind what is reported
	screen    = 512  // for choosing the finalists
	finalists = 4    // for each proposal wanted
	glance    = 64   // for a first look at each candidate, and for the wanted values
	likely    = 0.3  // an explanation of this probability gets values of its own ...
	certain   = 0.97 // ... unless there is next to nothing beside it
)
