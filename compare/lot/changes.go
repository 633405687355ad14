package lot

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	changeRisk = 0.001 // chance of telling a change along the boards of a steady lot, and of telling one too many (common practice)
	mostPlaces = 400   // where changes are looked for at first: of more boards at each so manieth
)

// changes finds where along the boards one group ends and the next begins: the best places of one, two … changes, of which each must
// gain, by Wilks's ratio of the determinants of the scatter within the groups (Rao 1973, 8c), what chance gives one steady lot in a
// thousand, every place that was tried having its share. How much likelier than a level they are comes with
// them, a place being one of as many as there are boards; nil: nowhere.
func (o *order) changes() (best []int, likelier float64) {
	n, p := float64(len(o.points)), float64(o.dimensions)
	least := max(leastGroup, int(math.Ceil(leastShare*n)))
	last, gain, most := o.left(nil), 0.0, 0.0
	for k, at := range o.places(least) {
		left, tried := o.left(at), max(n-float64((k+2)*least)+1, 1)
		if gain += last - left - byPlace(p, n-float64(k)-1-p, changeRisk/tried); gain > most {
			best, most, likelier = at, gain, o.without(left, float64(k+1)*(p+2))
		}
		last = left
	}
	return best, likelier
}

// byPlace is what one more group gains in the ln of the determinant with that chance where there is none: F with so many degrees of
// freedom, chi-square of many, where F's quantiles are not to be had.
func byPlace(dimensions, freedom, chance float64) float64 {
	if freedom > 1000 {
		return distuv.ChiSquared{K: dimensions}.Quantile(1-chance) / freedom
	}
	return math.Log1p(distuv.F{D1: dimensions, D2: freedom}.Quantile(1-chance) * dimensions / freedom)
}

// places are the best places of one, two … changes, by dynamic programming (Auger and Lawrence 1989).
func (o *order) places(least int) (out [][]int) {
	n := len(o.points)
	stride := (n + mostPlaces - 1) / mostPlaces
	var ends []int
	for i := least; i <= n-least; i += stride {
		ends = append(ends, i)
	}
	ends = append(ends, n)
	last := len(ends) - 1
	cost := make([]float64, len(ends)) // of the boards up to each, with the changes so far
	for j, to := range ends {
		cost[j] = o.cost(0, to)
	}
	var back [][]int // the change before
	for {
		next, from := make([]float64, len(ends)), make([]int, len(ends))
		for j, to := range ends {
			next[j] = math.Inf(1)
			for i := 0; i < j && to-ends[i] >= least; i++ {
				if c := cost[i] + o.cost(ends[i], to); c < next[j] {
					next[j], from[j] = c, i
				}
			}
		}
		if cost, back = next, append(back, from); math.IsInf(cost[last], 1) {
			return out // there is no room for so many
		}
		at := make([]int, len(back))
		for j, k := last, len(back)-1; k >= 0; k-- {
			j = back[k][j]
			at[k] = ends[j]
		}
		out = append(out, o.moved(at, least, stride))
	}
}

// moved moves each place by less than a stride to where it fits best.
func (o *order) moved(at []int, least, stride int) []int {
	for k := range at {
		before, after, best := 0, len(o.points), at[k]
		if k > 0 {
			before = at[k-1]
		}
		if k < len(at)-1 {
			after = at[k+1]
		}
		off := func(i int) float64 { return o.cost(before, i) + o.cost(i, after) }
		for i := max(before+least, at[k]-stride+1); i <= min(after-least, at[k]+stride-1); i++ {
			if off(i) < off(best) {
				best = i
			}
		}
		at[k] = best
	}
	return at
}

// changesAt are the boards with which other groups begin. Boards that drift, swing or wander show changes too: these must be far less
// likely. Nil: there are none.
func changesAt(points []point, dimensions int) []int {
	if len(points) < 2*leastGroup {
		return nil
	}
	o := orderOf(points, dimensions)
	if o == nil {
		return nil
	}
	at, likelier := o.changes()
	if at == nil || likelier < o.smooth()+against {
		return nil
	}
	return at
}
