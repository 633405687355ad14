package comparetest

import (
	"math"
	"sort"
)

// table is a piecewise constant density to propose from: cell i runs from edge[i] to edge[i+1] with probability mass[i].
// Where it is wrong, the weights make up for it; where it is 0, its parameter's density is 0 too.
type table struct {
	edge, mass, sum []float64 // sum[i] is the mass before cell i
}

// cells is about how many cells a table gets.
const cells = 400

// tabulate makes the table of a density; total is its integral.
func tabulate(d density) (t table, total float64) {
	per := max(6, cells/len(d.breaks))
	for i, low := range d.breaks[:len(d.breaks)-1] {
		high := d.breaks[i+1]
		for j := range per {
			t.edge = append(t.edge, low+(high-low)*float64(j)/float64(per))
		}
	}
	t.edge = append(t.edge, d.breaks[len(d.breaks)-1])
	for i, low := range t.edge[:len(t.edge)-1] {
		width := t.edge[i+1] - low
		m := 0.
		for _, node := range []struct{ at, weight float64 }{{0.1127016653792583, 5. / 18}, {0.5, 8. / 18}, {0.8872983346207417, 5. / 18}} { // Gauss, three nodes
			m += node.weight * d.at(low+node.at*width)
		}
		t.mass = append(t.mass, m*width)
		total += m * width
	}
	t.accumulate(total)
	return t, total
}

// accumulate divides the masses by their total and fills sum.
func (t *table) accumulate(total float64) {
	t.sum = make([]float64, len(t.mass))
	running := 0.
	for i := range t.mass {
		if total > 0 {
			t.mass[i] /= total
		}
		t.sum[i] = running
		running += t.mass[i]
	}
}

// cell finds the cell that holds x; -1 where none does.
func (t *table) cell(x float64) int {
	if !(x >= t.edge[0] && x < t.edge[len(t.edge)-1]) {
		return -1
	}
	return sort.Search(len(t.edge), func(i int) bool { return t.edge[i] > x }) - 1
}

// pdf is the proposal's density in a cell.
func (t *table) pdf(cell int) float64 {
	if cell < 0 {
		return 0
	}
	return t.mass[cell] / (t.edge[cell+1] - t.edge[cell])
}

// quantile turns u in 0..1 into a draw and its cell.
func (t *table) quantile(u float64) (x float64, cell int) {
	i := sort.Search(len(t.sum), func(i int) bool { return t.sum[i] > u }) - 1
	for i > 0 && t.mass[i] == 0 {
		i--
	}
	if t.mass[i] == 0 {
		return t.edge[i], i
	}
	x = t.edge[i] + min(1, (u-t.sum[i])/t.mass[i])*(t.edge[i+1]-t.edge[i])
	return min(x, math.Nextafter(t.edge[i+1], t.edge[i])), i
}

// support is where the table has any mass.
func (t *table) support() (low, high float64) {
	first, last := 0, len(t.mass)-1
	for first < last && t.mass[first] == 0 {
		first++
	}
	for last > first && t.mass[last] == 0 {
		last--
	}
	return t.edge[first], t.edge[last+1]
}

// moments are the table's mean and standard deviation.
func (t *table) moments() (mean, sd float64) {
	second := 0.
	for i, m := range t.mass {
		mid, width := (t.edge[i]+t.edge[i+1])/2, t.edge[i+1]-t.edge[i]
		mean += m * mid
		second += m * (mid*mid + width*width/12)
	}
	return mean, math.Sqrt(max(0, second-mean*mean))
}

// adapt is the table that suits draws from t whose squared weights, summed by cell, are squares: the variance is least where
// a cell's mass goes as the root of its width times the integral of the squared integrand. Sums are smoothed over neighbours,
// and the less the draws tell (trust, 0 to 1), the more of the first table stays in.
func (t *table) adapt(first *table, squares []float64, trust float64) table {
	fresh := table{edge: t.edge, mass: make([]float64, len(t.mass))}
	total := 0.
	for i := range squares {
		s := 0.
		for _, v := range squares[max(0, i-2):min(len(squares), i+3)] {
			s += v
		}
		if first.mass[i] > 0 {
			fresh.mass[i] = math.Sqrt(s * max(t.mass[i], 0.01*first.mass[i]))
		}
		total += fresh.mass[i]
	}
	if total == 0 {
		return *first
	}
	for i := range fresh.mass {
		fresh.mass[i] = trust*fresh.mass[i]/total + (1-trust)*first.mass[i]
	}
	fresh.accumulate(1)
	return fresh
}

// hits gathers draws for adapting: squared weights by parameter and cell, and the weights' sums.
type hits struct {
	squares [][]float64
	all     sums
}

func (s *sampler) hits() *hits {
	h := &hits{squares: make([][]float64, len(s.tables))}
	for i := range h.squares {
		h.squares[i] = make([]float64, len(s.tables[i].mass))
	}
	return h
}

func (h *hits) add(s *sampler, weight float64) {
	h.all.add(weight)
	for i, c := range s.cells {
		if c >= 0 {
			h.squares[i][c] += weight * weight
		}
	}
}

// adapt adapts a sampler's tables, by as much as the draws' effective number allows for tables of this many cells.
func (h *hits) adapt(s *sampler) {
	trust := h.all.effective() / (h.all.effective() + 30)
	for i := range h.squares {
		s.tables[i] = s.tables[i].adapt(&s.first[i], h.squares[i], trust)
	}
}
