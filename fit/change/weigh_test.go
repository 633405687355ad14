package change

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"offbeat/acquire/acquiretest/expect"
)

// TestWeighing: the likelihoods of a drift and of changes over that of a steady train are those of plain least squares for each place
// and pair of places, added up with their shares: annual flow at Aswan (Cobb, Biometrika 65 (1978) 243), white noise.
func TestWeighing(t *testing.T) {
	var nile struct{ Nile struct{ Flow []float64 } }
	expect.Values(t, "changepoint.toml", &nile)
	y := nile.Nile.Flow
	n := len(y)
	var p points
	for i, v := range y {
		p.index, p.high, p.count = append(p.index, float64(i)), append(p.high, v), append(p.count, 1)
	}
	at := []int{8, 14, 28, 45, 60, 91}
	l := p.highs().weigh([]weighed{{}}, at, nil)

	left := func(slope bool, from, to int) float64 { // sum of squares
		var cols [][]float64
		add := func(f func(i int) float64) {
			c := make([]float64, n)
			for i := range c {
				c[i] = f(i)
			}
			cols = append(cols, c)
		}
		add(func(int) float64 { return 1 })
		if slope {
			add(func(i int) float64 { return float64(i) })
		}
		if from > 0 {
			add(func(i int) float64 {
				if i >= from && i < to {
					return 1
				}
				return 0
			})
		}
		x := mat.NewDense(n, len(cols), nil)
		for j, c := range cols {
			x.SetCol(j, c)
		}
		var b, fit mat.VecDense
		if err := b.SolveVec(x, mat.NewVecDense(n, y)); err != nil {
			t.Fatal(err)
		}
		fit.MulVec(x, &b)
		fit.SubVec(&fit, mat.NewVecDense(n, y))
		return mat.Dot(&fit, &fit)
	}
	free := float64(n - 1)
	odds := func(without, with float64) float64 { // of one more column, averaged over its size
		v := math.Pow(without/with, free/2) * math.Sqrt(2*math.Pi) / 14
		if z2 := (without - with) / with * (free - 1); z2 > 1 {
			v /= math.Sqrt(z2)
		}
		return v
	}
	still, drift := left(false, 0, 0), left(true, 0, 0)
	slopes := odds(still, drift)
	expect.Near(t, "drift over steady", l.slope.over(l.steady), math.Log(driftShare*slopes/(1-driftShare-warmingShare)), 1e-9)
	var sum, beside, pairs float64
	for i := range at {
		for j := i + 1; j < len(at); j++ {
			pairs += 1 / float64(at[j]-at[i])
		}
	}
	change := func(from, to int, share float64) {
		both := share * alsoDrifts * slopes * odds(drift, left(true, from, to))
		sum, beside = sum+share*(1-alsoDrifts)*odds(still, left(false, from, to))+both, beside+both
	}
	for i, from := range at {
		change(from, n, forGood/float64(len(at)))
		for _, to := range at[i+1:] {
			change(from, to, (1-forGood)/pairs/float64(to-from))
		}
	}
	expect.Near(t, "change over steady", l.change.over(l.steady), math.Log(sum/(1-driftShare-warmingShare)), 1e-6)
	expect.Near(t, "those beside a drift among the changes", l.beside.over(l.change), math.Log(beside/sum), 1e-5)
	expect.Near(t, "change over both", l.change.over(l.calm()), math.Log(sum/(1-driftShare-warmingShare+driftShare*slopes)), 1e-6)
}
