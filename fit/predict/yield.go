package predict

import (
	"math"
	"slices"

	"offbeat/fit"
)

// Yield is what a design makes of one quantity of its target.
type Yield struct {
	Quantity string     `json:"quantity"`
	Limits   [2]float64 `json:"limits"`
	Centre   float64    `json:"centre"`        // nominal over the target's value, less one
	Yield    float64    `json:"yield"`         // fraction of the boards within these limits
	Error    float64    `json:"yield_error"`   // its standard error: the boards are drawn at random
	Worst    bool       `json:"in_worst_case"` // the worst case of the parts lies within them too
}

// Yields says how many of the boards of the Monte Carlo meet each target, and how many meet them all; a board that does not
// run meets none. It is nil without targets.
func (r *Result) Yields(targets []fit.Target) (each []Yield, all float64) {
	inside := func(t fit.Target, q int, x *[5]float64) bool { return x[q] >= t.Low && x[q] <= t.High }
	met := make([]bool, len(r.boards))
	for i := range met {
		met[i] = true
	}
	for _, t := range targets {
		q := slices.Index(Quantities, t.Quantity)
		if q < 0 || r.OnePulse && q > 0 {
			continue
		}
		n := 0
		for i := range r.boards {
			if inside(t, q, &r.boards[i]) {
				n++
			} else {
				met[i] = false
			}
		}
		b, y := r.Bands[q], float64(n)/draws
		each = append(each, Yield{t.Quantity, [2]float64{t.Low, t.High}, b.Nominal/t.Value - 1, y, math.Sqrt(y * (1 - y) / draws), b.Worst[0] >= t.Low && b.Worst[1] <= t.High})
	}
	for _, ok := range met {
		if ok {
			all++
		}
	}
	return each, all / draws
}
