package noise

import (
	"math"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/workers"
)

const (
	harmonicWork = 1 << 18 // edges times harmonics
	maxHarmonics = 64
)

// lattice adds the component that the sample lattice gives to the rows of each way. Where the edges fall between the
// samples follows from the fitted times, which are themselves uncertain, and from the noise: the sum is averaged over
// both, and the former includes the answer.
func (c *chain) lattice(l *cell.Lattice, fl *floors, ways []way) {
	n := len(c.y)
	count := min(maxHarmonics, max(4, harmonicWork/n))
	terms, rest := l.Harmonics(count)
	high, low := c.counts()
	moves := make([][]float64, cores())
	// The answer's own spread, over which the phases are open, from no averaging at all: it is the widest that it can be.
	one := l.Variance()[0] + l.Variance()[1]
	open := budget.Row{Name: LatticeName, Kind: "B", Distribution: "rectangular", High: one, Both: -one, Low: one + one/(c.cycles*c.cycles)}
	seen := c.scatter() // where all neighbours are rounded alike, a slip is no noise that would break that up
	workers.Each(len(ways), cores(), func(worker, j int) {
		w := &ways[j]
		if w.own != nil {
			w.rows = append(w.rows, *w.own)
			return
		}
		spread := min(w.white+w.local, seen)
		jitter := [2]float64{fl.known[0] + spread, fl.known[1] + spread}
		hh, both, ll := budget.Sum(append(w.rows[:len(w.rows):len(w.rows)], open))
		// Cholesky factor of the covariance of high and low.
		a := math.Sqrt(hh)
		b := both / a
		d := math.Sqrt(max(ll-b*b, 0))
		eh, el := a, b+d*float64(1-j%2*2) // a node of Gauss and Hermite's rule of two: one standard deviation
		moved := resize(moves[worker], n)
		moves[worker] = moved
		for i := range moved {
			moved[i] = w.phase[i] + high[i]*eh + low[i]*el
		}
		row := open
		row.High, row.Both, row.Low = c.sums(l, w.high, w.low, moved, jitter, terms, rest)
		w.rows = append(w.rows, row)
	})
}

// counts is the number of high and low times from the middle of its run to each observation.
func (c *chain) counts() (high, low []float64) {
	n := len(c.y)
	high, low = make([]float64, n), make([]float64, n)
	from := 0
	centre := func(to int) {
		mh, ml := (high[from]+high[to-1])/2, (low[from]+low[to-1])/2
		for i := from; i < to; i++ {
			high[i] -= mh
			low[i] -= ml
		}
	}
	for i := 1; i < n; i++ {
		if c.start[i] {
			centre(i)
			from = i
			continue
		}
		high[i], low[i] = high[i-1]+c.dh[i], low[i-1]+c.dl[i]
	}
	centre(n)
	return high, low
}

// sums adds up the rounding error of two estimates Σ wa x and Σ wb x, edges at the phases given (in
// cells), over a uniformly random common phase: Σ_m 2 c_m² |Σ_k w_k exp(2πi m φ_k)|² as far as white noise of
// variance jitter (cells²) leaves the phases coherent, plus the incoherent rest.
func (c *chain) sums(l *cell.Lattice, wa, wb, phase []float64, jitter [2]float64, terms []cell.Term, rest [2]float64) (aa, ab, bb float64) {
	n := len(phase)
	var qaa, qab, qbb [2]float64
	for i := range n {
		k := kind(c.rise[i])
		w := 1 / c.n[i]
		qaa[k] += wa[i] * wa[i] * w
		qab[k] += wa[i] * wb[i] * w
		qbb[k] += wb[i] * wb[i] * w
	}
	for k := range 2 {
		aa += rest[k] * qaa[k]
		ab += rest[k] * qab[k]
		bb += rest[k] * qbb[k]
	}
	// Harmonics that follow on each other are reached by turning on; the few others each need their own sine.
	run := 0
	for run < len(terms) && terms[run].M == float64(run+1) {
		run++
	}
	keep := make([][2]float64, len(terms))
	for m, t := range terms {
		for k := range keep[m] {
			d := math.Exp(-2 * math.Pi * math.Pi * t.M * t.M * jitter[k])
			keep[m][k] = t.C[k] * d
			lost := 2 * t.C[k] * t.C[k] * (1 - d*d)
			aa += lost * qaa[k]
			ab += lost * qab[k]
			bb += lost * qbb[k]
		}
	}
	shows := func(m int) bool { return math.Abs(keep[m][0])+math.Abs(keep[m][1]) > 1e-9 }
	var single []int // Harmonics that do not follow on
	for m := run; m < len(terms); m++ {
		if shows(m) {
			single = append(single, m)
		}
	}
	for run > 0 && !shows(run-1) {
		run--
	}
	if run == 0 && len(single) == 0 {
		return aa, ab, bb
	}
	total := make([][4]float64, len(terms)) // Σ wa cos, Σ wa sin, Σ wb cos, Σ wb sin
	var comb []float64
	combOf := 1.0
	for i, p := range phase {
		k := kind(c.rise[i])
		if c.n[i] > 1 && c.n[i] != combOf {
			comb, combOf = comb[:0], c.n[i]
			for _, t := range terms {
				comb = append(comb, c.comb(i, t.M))
			}
		}
		add := func(m int, s, co float64) {
			g := keep[m][k]
			if c.n[i] > 1 {
				g *= comb[m]
			}
			t := &total[m]
			t[0] += g * wa[i] * co
			t[1] += g * wa[i] * s
			t[2] += g * wb[i] * co
			t[3] += g * wb[i] * s
		}
		s1, c1 := sincos(p)
		s, co := s1, c1
		for m := range run {
			add(m, s, co)
			s, co = s*c1+co*s1, co*c1-s*s1
		}
		for _, m := range single {
			s, co := sincos(terms[m].M * p)
			add(m, s, co)
		}
	}
	for _, t := range total {
		aa += 2 * (t[0]*t[0] + t[1]*t[1])
		ab += 2 * (t[0]*t[2] + t[1]*t[3])
		bb += 2 * (t[2]*t[2] + t[3]*t[3])
	}
	return aa, ab, bb
}
