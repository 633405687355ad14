package circuit

import (
	"math"
	"testing"
)

// Every group that a circuit lists is fixed by its times: its gradient over the logarithms of the parts lies in the span of
// the times' own gradients, ideal terms, at parts that no symmetry favours. A product that the times do not fix is none.
func TestGroupsAreFixedByTheTimes(t *testing.T) {
	for _, c := range All() {
		at := Ideal(9)
		for i := range c.Parts {
			at[i] = []float64{33e3, 68e3, 22e3, 47e3}[i]
			if c.Parts[i].Name[0] == 'C' {
				at[i] = 47e-9 * float64(1+i)
			}
		}
		gradient := func(of func(v *Values) float64) []float64 {
			g := make([]float64, len(c.Parts))
			for i := range g {
				const h = 1e-5
				up, down := at, at
				up[i], down[i] = at[i]*math.Exp(h), at[i]*math.Exp(-h)
				g[i] = (math.Log(of(&up)) - math.Log(of(&down))) / (2 * h)
			}
			return g
		}
		basis := [][]float64{gradient(func(v *Values) float64 { h, _, _ := c.Times(v); return h })}
		if !c.OnePulse {
			basis = append(basis, gradient(func(v *Values) float64 { _, l, _ := c.Times(v); return l }))
		}
		reduce := func(g []float64, by [][]float64) float64 {
			for _, b := range by {
				var dot, size float64
				for i := range g {
					dot, size = dot+g[i]*b[i], size+b[i]*b[i]
				}
				for i := range g {
					if size > 0 {
						g[i] -= dot / size * b[i]
					}
				}
			}
			var left float64
			for _, x := range g {
				left = math.Hypot(left, x)
			}
			return left
		}
		if len(basis) == 2 {
			if reduce(basis[1], basis[:1]) < 1e-6 { // high and low time are one
				basis = basis[:1]
			}
		}
		groups, _ := c.Groups()
		for _, g := range groups {
			if left := reduce(gradient(g.Of), basis); left > 1e-5 {
				t.Errorf("%s: the times do not fix %s: %.3g of its gradient lies outside theirs", c.Name, g.Name, left)
			}
		}
	}
}
