package stability

import (
	"math"
	"slices"

	"offbeat/fit"
)

// Block is the mean period of a stretch of cycles, taken from its first edge to its last: what these two are off by, rounded
// to the sample interval or not, is shared by all its cycles, so that a slow drift shows under coarse times.
type Block struct {
	At     float64 // mean of the quantity over it
	Period float64 // s
	Cycles int
}

// Uncertainty is a block's standard uncertainty in s by the noise of a drift's fit.
func (b Block) Uncertainty(d *Drift) float64 {
	n := float64(b.Cycles)
	return math.Sqrt(2*d.White.Value*d.White.Value/(n*n) + d.Walk.Value*d.Walk.Value/n)
}

// Blocks parts a series into about n blocks of equal length; none spans a gap or one of the instants in breaks, in s. z gives
// the quantity at a time in s.
func Blocks(s *fit.Series, z func(t float64) float64, n int, breaks []float64) []Block {
	last := len(s.Start) - 1
	if last < 1 || n < 1 {
		return nil
	}
	gaps := make([]float64, last)
	for i := range gaps {
		gaps[i] = s.Start[i+1] - s.Start[i]
	}
	usual := Median(gaps)
	each := max(int(math.Round(usual/(Median(s.High)+Median(s.Low)))), 1) // cycles from one kept start to the next
	size := (last + n - 1) / n
	var out []Block
	from, sum := 0, 0.0
	for i := range last {
		a, b := s.Start[i], s.Start[i+1]
		broken := math.Abs(gaps[i]/usual-1) > 0.3 || slices.ContainsFunc(breaks, func(t float64) bool { return a < t && t <= b })
		if !broken {
			sum += z((a + b) / 2)
		}
		end := i + 1
		if broken {
			end = i
		}
		if k := end - from; k >= size || k > 0 && 2*k >= size && (broken || end == last) {
			out = append(out, Block{At: sum / float64(k), Period: (s.Start[end] - s.Start[from]) / float64(k*each), Cycles: k * each})
			from, sum = end, 0
		}
		if broken {
			from, sum = i+1, 0
		}
	}
	return out
}
