package transition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestSwingIsStep: a transition list read by its inner loop gives the edges that a look at each row by itself gives.
func TestSwingIsStep(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		var x, v []float64
		state, at := 0.0, rnd.Float64()
		for range 200 {
			at += rnd.Float64()
			switch rnd.IntN(40) {
			case 0: // another channel's row
			case 1:
				x, v = append(x, at), append(v, math.NaN())
				continue
			default:
				state = 1 - state
			}
			x, v = append(x, at), append(v, state)
		}
		var whole, single Finder
		whole.Hold, single.Hold = true, true
		whole.Set(0.5, 0, 1)
		single.Set(0.5, 0, 1)
		cut := rnd.IntN(len(v))
		got := whole.Scan(0, x[:cut], v[:cut], nil)
		got = whole.Scan(float64(cut), x[cut:], v[cut:], got)
		var want []Edge
		for i := range v {
			want = single.step(x[i], v[i], want)
		}
		if !slices.Equal(got, want) || len(want) < 100 {
			t.Fatalf("%d edges, row by row %d", len(got), len(want))
		}
	}
}
