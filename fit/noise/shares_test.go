package noise

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A baseline that comes to rest after the start shifts rises one way and falls the other: the high time is held to what its means over
// parts of the record say. Where the edges scatter, or the period does, nothing is added but by chance.
func TestHighTimeWhileABaselineSettles(t *testing.T) {
	for _, c := range []struct {
		n             int
		settles, step float64
		there         bool
	}{{23, 3, 0, true}, {23, -3, 0, true}, {80, 5, 0, true}, {80, 0, 0, false}, {80, 0, 0.2, false}, {23, 0, 0.2, false}} {
		there, squares := 0, 0.0
		const trains = 12
		for seed := range uint64(trains) {
			rnd := rand.New(rand.NewPCG(seed, 72))
			var e []float64
			x := 0.0
			for k := range c.n + 1 {
				late := c.settles * math.Exp(-float64(k)/3)
				e = append(e, x+late+0.2*rnd.NormFloat64(), x+55-late+0.2*rnd.NormFloat64())
				x += 100 + c.step*rnd.NormFloat64()
			}
			r, err := Estimate(recordOf(e), Known{})
			if err != nil {
				t.Fatal(err)
			}
			variance := 0.0
			for _, row := range r.Rows {
				variance += row.High
				if row.Name == sharesName && row.High > 0 {
					if there++; row.Low != row.High || row.Both != -row.High {
						t.Errorf("%+v", row)
					}
				}
			}
			squares += (r.High - 55) * (r.High - 55) / variance / trains
		}
		if there > 1 && !c.there || there < trains-1 && c.there {
			t.Errorf("%+v: in %d of %d trains the duty factor changes", c, there, trains)
		}
		if z := math.Sqrt(squares); z > 1.6 {
			t.Errorf("%+v: high times lie off by %.2f of what is stated, rms", c, z)
		}
	}
}
