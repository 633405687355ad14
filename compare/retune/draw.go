package retune

import (
	"math"
	"math/rand/v2"

	"offbeat/compare/reconcile"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// slots of uniform numbers that one board needs: two new components a change and the trimmer's setting.
const (
	perMove  = 3
	maxMoves = 2
)

// board is one equally likely state of the real board, with the chances that its new parts are drawn from.
type board struct {
	values circuit.Values // the clock is the instrument's error, still in
	chance [perMove * maxMoves]float64
	// unmodelled boards keep the times that were measured, but nobody can say what a change would do to them.
	unmodelled bool
	measured   [5]float64
	group      int // the explanation it belongs to, numbered from 0
}

// draw resamples the posterior systematically (one uniform number shifts an even comb over the weights): n boards.
func draw(e *reconcile.Evidence, n int, seed uint64) []board {
	rng := rand.New(rand.NewPCG(seed, 0x726574756e65))
	groups, _ := e.Explanations()
	boards := make([]board, 0, n)
	for _, s := range e.Result.Comb(n, rng.Float64()) {
		b := board{values: *s.Values, group: groups[s.Hypothesis]}
		for k := range b.chance {
			b.chance[k] = rng.Float64()
		}
		if e.Cases[s.Hypothesis].Unexplained {
			b.unmodelled = true
			b.measured = remeasure(e, rng)
		}
		boards = append(boards, b)
	}
	// The samples run from explanation to explanation: mixed up, any first few of them stand for all.
	rng.Shuffle(len(boards), func(i, k int) { boards[i], boards[k] = boards[k], boards[i] })
	return boards
}

// remeasure draws the true times of the board as it is from the first capture taken without special conditions.
// The instrument's clock, small against what leaves a board unexplained, is not in it.
func remeasure(e *reconcile.Evidence, rng *rand.Rand) [5]float64 {
	for i := range e.Problem.Data {
		d := &e.Problem.Data[i]
		if d.Adjust != nil {
			continue
		}
		a, b := rng.NormFloat64(), rng.NormFloat64()
		high := math.Exp(d.LnHigh + math.Sqrt(d.High)*a)
		if d.OnePulse {
			return predict.Quantify(high, 0, true)
		}
		r := d.Covariance / math.Sqrt(d.High)
		low := math.Exp(d.LnLow + r*a + math.Sqrt(max(d.Low-r*r, 0))*b)
		return predict.Quantify(high, low, false)
	}
	return [5]float64{}
}
