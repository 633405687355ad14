package change

import (
	"fmt"
	"math"
	"math/rand/v2"
	"offbeat/fit/train"
	"os"
	"strconv"
	"testing"
)

type sim struct{ white, step, drift, fm, cell float64 }

func draw(rnd *rand.Rand, n int, s sim, dev func(i int) float64) []train.Cycle {
	const H, L = 57.3, 91.1
	t := rnd.Float64() * 10
	f := 0.0
	var out []train.Cycle
	q := func(x float64) float64 {
		if s.cell > 0 {
			return math.Floor(x/s.cell) * s.cell
		}
		return x
	}
	for i := range n {
		d := 1 + dev(i) + s.drift*float64(i)/float64(n) + f
		f += s.fm * rnd.NormFloat64()
		r := t + s.white*rnd.NormFloat64()
		t += H*d + s.step*rnd.NormFloat64()
		fa := t + s.white*rnd.NormFloat64()
		t += L*d + s.step*rnd.NormFloat64()
		out = append(out, train.Cycle{Rise: q(r), Fall: q(fa), Index: float64(i), N: 1, Start: i == 0})
	}
	return out
}
func TestZZ(t *testing.T) {
	N, _ := strconv.Atoi(os.Getenv("N"))
	if N == 0 {
		N = 200
	}
	for _, n := range []int{20, 60, 300} {
		for name, s := range map[string]sim{"white": {white: .3}, "walk": {step: .3}, "both": {white: .3, step: .1}, "drift": {white: .3, drift: .01}, "latticewalk": {cell: 1, step: .05}, "fm": {white: .1, fm: 1e-4}, "fm2": {white: .1, fm: 1e-3}, "drift5": {white: .3, drift: 1e-4}, "drift3": {step: .3, drift: 1e-3}} {
			fp := 0
			for k := range N {
				rnd := rand.New(rand.NewPCG(uint64(k), uint64(n)))
				c := draw(rnd, n, s, func(int) float64 { return 0 })
				if st := Find(c, s.cell); st != nil {
					fp++
				}
			}
			fmt.Printf("%5d %-12s found %d/%d\n", n, name, fp, N)
		}
	}
}
func TestPower(t *testing.T) {
	const n = 200
	for _, x := range []struct {
		name string
		s    sim
		u    float64
	}{
		{"white", sim{white: .3}, math.Sqrt(2 * 12 * .09 / 2 / 1e6)},
		{"walk", sim{step: .3}, math.Sqrt(2 * 2 * .09 / 100)},
		{"both", sim{step: .1, white: .3}, math.Sqrt(2 * (2 * .01 / 100))},
	} {
		for _, k := range []float64{4, 5, 6, 8} {
			for _, back := range []bool{false, true} {
				got, right := 0, 0
				for seed := range 40 {
					rnd := rand.New(rand.NewPCG(uint64(seed), uint64(k*10)))
					d := k * x.u / 148.4
					at := 100
					c := draw(rnd, n, x.s, func(i int) float64 {
						if back {
							if i >= 60 && i < 140 {
								return d
							}
							return 0
						}
						if i >= at {
							return d
						}
						return 0
					})
					st := Find(c, 0)
					if st != nil {
						got++
						if len(st) == 2 && !back || len(st) == 3 && back {
							right++
						}
					}
				}
				fmt.Printf("%-6s %g sigma back %v: found %d/40, of its kind %d\n", x.name, k, back, got, right)
			}
		}
	}
}
