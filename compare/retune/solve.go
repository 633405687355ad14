package retune

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// Bounds of a wanted value, as ratios to the part's nominal.
const (
	replaceReach = 30.0
	addReach     = 3e3
)

// bounds are the natural logarithms between which the new component of a move is sought, and where to start.
func (t *tuner) bounds(m move) (low, high, start float64) {
	x := math.Log(t.parts[m.part].Nominal)
	reach := math.Log(replaceReach)
	small := m.how == addSeries || m.how == addParallel && t.parts[m.part].Kind == fit.Capacitor
	switch {
	case m.how == turn:
		track := t.parts[m.part].Track.Value
		return math.Log(ends * track), math.Log((1 - ends) * track), math.Log(track / 2)
	case m.takesOut():
		return x - reach, x + reach, x
	case small: // a small share of the part itself
		return x - math.Log(addReach), x + reach, x + math.Log(0.1)
	}
	return x - reach, x + math.Log(addReach), x + math.Log(10) // a large resistor across it
}

// misses writes the mean logarithms of target quantity over target, in units of the target's half-width, with new
// components of the logarithmic values x; false where most boards would not run.
func (t *tuner) misses(view []board, moves []move, x, out []float64) bool {
	k := candidate{moves: make([]move, len(moves))}
	copy(k.moves, moves)
	for i := range k.moves {
		m := &k.moves[i]
		if m.adjusts() {
			m.how = replace
		}
		if x != nil && !math.IsNaN(x[i]) {
			m.parts = []component{{value: math.Exp(x[i])}}
		}
	}
	clear(out)
	n := 0
	for i := range view {
		t.middling.values = view[i].values
		v := &t.work
		t.after(v, &t.middling, &k)
		v[circuit.Clock] = 0
		q, ok := predict.Of(t.circuit, v)
		if !ok {
			continue
		}
		n++
		for j, g := range t.targets {
			out[j] += math.Log(q[g.quantity] / g.value)
		}
	}
	for j, g := range t.targets {
		out[j] /= float64(max(n, 1)) * g.half
	}
	return 2*n > len(view)
}

// solve finds the new components' values, as logarithms, for which the target's quantities are met best (Levenberg
// and Marquardt's damped least squares). Moves that have their parts already keep them: their x is NaN. False where
// a value runs to its bound, a move has no say in the target, or the circuit would not run.
func (t *tuner) solve(view []board, moves []move) (x []float64, ok bool) {
	n, m := len(moves), len(t.targets)
	x = make([]float64, n)
	low, high := make([]float64, n), make([]float64, n)
	for i, mv := range moves {
		if mv.parts != nil {
			x[i] = math.NaN()
			continue
		}
		low[i], high[i], x[i] = t.bounds(mv)
	}
	r, next := make([]float64, m), make([]float64, m)
	if !t.misses(view, moves, x, r) {
		return x, false
	}
	slope := make([][]float64, n) // one column a move
	trial := make([]float64, n)
	damping := 1e-3
	for range 40 {
		for i := range slope {
			slope[i] = make([]float64, m)
			if math.IsNaN(x[i]) {
				continue
			}
			const h = 1e-4
			copy(trial, x)
			trial[i] += h
			if !t.misses(view, moves, trial, slope[i]) {
				return x, false
			}
			for j := range r {
				slope[i][j] = (slope[i][j] - r[j]) / h
			}
		}
		moved := 0.0
		for tries := 0; ; tries++ {
			step := dampedStep(slope, r, damping)
			moved = 0
			for i := range x {
				if math.IsNaN(x[i]) {
					trial[i] = x[i]
					continue
				}
				trial[i] = min(max(x[i]+min(max(step[i], -1), 1), low[i]), high[i])
				moved = max(moved, math.Abs(trial[i]-x[i]))
			}
			if t.misses(view, moves, trial, next) && floats.Dot(next, next) <= floats.Dot(r, r) {
				copy(x, trial)
				copy(r, next)
				damping = max(damping/10, 1e-12)
				break
			}
			if damping *= 10; tries > 20 {
				moved = 0
				break
			}
		}
		if moved < 1e-6 {
			break
		}
	}
	for i := range x {
		free := !math.IsNaN(x[i])
		if free && (x[i] <= low[i]+1e-6 || x[i] >= high[i]-1e-6 || floats.Dot(slope[i], slope[i]) < 1e-6) {
			return x, false
		}
	}
	return x, true
}

// dampedStep solves (J'J + d diag(J'J)) s = -J'r for one or two unknowns, J's columns being slope.
func dampedStep(slope [][]float64, r []float64, d float64) []float64 {
	n := len(slope)
	a, g := make([]float64, n*n), make([]float64, n)
	for i := range n {
		for k := range n {
			a[i*n+k] = floats.Dot(slope[i], slope[k])
		}
		g[i] = -floats.Dot(slope[i], r)
		a[i*n+i] = a[i*n+i]*(1+d) + 1e-300
	}
	if n == 1 {
		return []float64{g[0] / a[0]}
	}
	det := a[0]*a[3] - a[1]*a[2]
	if !(math.Abs(det) > 0) {
		return make([]float64, n)
	}
	return []float64{(a[3]*g[0] - a[1]*g[1]) / det, (a[0]*g[1] - a[2]*g[0]) / det}
}
