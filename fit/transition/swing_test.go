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

// All rows of a list that go from one zone to the other are taken in one go, up to the first that does not.
func TestSwingTakesAll(t *testing.T) {
	f := Finder{Hold: true}
	f.Set(0.5, 0, 1)
	x, v := []float64{0, 1, 2, 3, 4, 5, 6}, []float64{0, 1, 0, 1, 0, 0, 1}
	f.step(x[0], v[0], nil)
	i, out := f.swing(x, v, 1, nil)
	if i != 5 || len(out) != 4 || out[3].X != 4 || out[3].Cell != 1 || out[3].Rise {
		t.Errorf("to row %d: %+v", i, out)
	}
	if i, out = f.swing(x, v, 6, nil); i != 7 || len(out) != 1 || !out[0].Rise || out[0].Cell != 2 {
		t.Errorf("to row %d: %+v", i, out)
	}
	if f.v = 0.5; f.state == low {
		t.Fatal("not high")
	} else if i, _ = f.swing(x, v, 1, nil); i != 1 {
		t.Errorf("from between the zones to row %d", i)
	}
}
