package measure_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/measure"
)

// TestFewCyclesHaveStudentsTails: over captures of 2 to 10 cycles, with jitter, with a walk and with both, errors as far out as
// Student's distribution with the stated degrees of freedom gives to 1 in 100 and 1 in 1,000 are as rare as that, or nearly: a
// walk that so few cycles do not show leaves some of the period's.
func TestFewCyclesHaveStudentsTails(t *testing.T) {
	var n, far, farther [2]float64 // times and duty factor; period
	for _, cycles := range []float64{3.3, 4.3, 6.4, 11.3} {
		for _, c := range classes() {
			if !slices.Contains([]string{"fast edges, large white jitter", "fast edges, large random walk", "transition list, both noises", "slow ramps, noise and jitter"}, c.name) {
				continue
			}
			for seed := range uint64(40) {
				rnd := rand.New(rand.NewPCG(seed, uint64(cycles*10)))
				w := c.draw(rnd, cycles)
				m, err := measure.Run(w.Capture(rnd), measure.Options{})
				if err != nil {
					continue
				}
				p, d := m.Period(), m.Duty()
				for i, x := range [][3]float64{
					{m.High.Value - w.High, m.High.Uncertainty, m.Freedom.High}, {m.Low.Value - w.Low, m.Low.Uncertainty, m.Freedom.Low},
					{d.Value - w.High/(w.High+w.Low), d.Uncertainty, m.Freedom.Duty}, {p.Value - w.High - w.Low, p.Uncertainty, m.Freedom.Period},
				} {
					k := i / 3
					z := -math.Abs(x[0] / x[1])
					chance := 2 * distuv.UnitNormal.CDF(z)
					if x[2] > 0 {
						chance = 2 * distuv.StudentsT{Sigma: 1, Nu: x[2]}.CDF(z)
					}
					n[k]++
					if chance < 0.01 {
						far[k]++
					}
					if chance < 0.001 {
						farther[k]++
					}
				}
			}
		}
	}
	for k, most := range [2][2]float64{{0.02, 0.004}, {0.02, 0.006}} {
		if far[k]/n[k] > most[0] || farther[k]/n[k] > most[1] || n[k] < 600 {
			t.Errorf("of %g %g have a chance below 1 in 100, and %g below 1 in 1,000", n[k], far[k], farther[k])
		}
	}
	t.Logf("%v: %v %v", n, far, farther)
}
