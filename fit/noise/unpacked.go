package noise

import (
	"math"

	"offbeat/fit/cell"
	"offbeat/fit/train"
)

const (
	slips    = 8.0  // cells that a train moves by against the samples over the record, below which its means tell the cells of its edges
	manyOfIt = 1000 // cycles that stand for such a train
)

// unpacked gives single cycles of a train that was averaged, where it keeps in step with its samples: a mean of n edges, of which none lies more
// than one cell off the others, says how many do. Averages of it say less: where its few slips are is what its times rest on. (Of 2500 and
// 6000 cycles that creep by half a cell the high time was up to 40 of its uncertainties off.) sample holds its first edge. Nil where it does not
// keep in step, or not all of it can be told.
func unpacked(cycles, sample []train.Cycle, l *cell.Lattice) []train.Cycle {
	edge := sample[0].Rise
	if math.IsNaN(edge) { // the record begins within a pulse
		edge = sample[0].Fall
	}
	cell, last := l.Cell, cycles[len(cycles)-1]
	if l.Places { // one may lie beside the middle of its cell, with a sample on its slope
		edge = (math.Floor(edge/cell) + 0.5) * cell
	}
	all := last.Index + float64(last.N)
	high, low := nominal(cycles, 1/cell)
	whole := math.Round(high + low)
	if drift := math.Abs(high + low - whole); cell == 0 || drift > creep || drift*all > slips || last.N <= 1 && cycles[0].N <= 1 {
		return nil
	}
	every := 1 + 2*int(all/manyOfIt/2) // odd, so that every place within a mean has its turn
	var out []train.Cycle
	for i, c := range cycles {
		if c.Start && i > 0 || math.IsNaN(c.Rise) || math.IsNaN(c.Fall) {
			return nil
		}
		n := float64(c.N)
		first := c.Index - (n-1)/2
		var from, at [2]float64 // the cell of its first edge, and how many lie in that
		for s, x := range [2]float64{c.Fall, c.Rise} {
			x = (x-edge)/cell - whole*(n-1)/2
			below := math.Floor(x + 0.5/n)
			on := math.Round((x - below) * n)
			if !(math.Abs((x-below)*n-on) <= offGrid) {
				return nil
			}
			if from[s], at[s] = below, n-on; high+low < whole {
				from[s], at[s] = below+1, on
			}
		}
		for k := math.Mod(float64(every)-math.Mod(first, float64(every)), float64(every)); k < n; k += float64(every) {
			place := func(s int) float64 {
				x := from[s] + whole*k
				if k >= at[s] {
					x += math.Copysign(1, high+low-whole)
				}
				return edge + x*cell
			}
			out = append(out, train.Cycle{Rise: place(1), Fall: place(0), Index: first + k, N: 1, Start: len(out) == 0})
		}
	}
	return out
}
