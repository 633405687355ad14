package capability

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/compare/lot/chart"
)

// NIST/SEMATECH e-Handbook 6.1.6: USL 20, LSL 8, mean 16, deviation 2, to its four digits. The values are two
// points placed so that they have exactly that mean and deviation.
func TestHandbook(t *testing.T) {
	var f struct {
		C struct{ Usl, Lsl, Mean, Sd, Cp, Cpu, Cpl, Cpk float64 } `toml:"capability_6_1_6"`
	}
	expect.Values(t, "handbook_examples.toml", &f)
	c := f.C
	d := c.Sd / math.Sqrt2
	x := []float64{c.Mean - d, c.Mean + d}
	both, err := Of(x, c.Lsl, c.Usl, chart.Sigma{Value: c.Sd, Freedom: 1})
	if err != nil {
		t.Fatal(err)
	}
	expect.Within(t, "Cp", both.Cp.Value, c.Cp, 5e-5)
	expect.Within(t, "Cpk", both.Cpk.Value, c.Cpk, 5e-5)
	expect.Within(t, "Pp", both.Pp.Value, c.Cp, 5e-5)
	expect.Within(t, "Ppk", both.Ppk.Value, c.Cpk, 5e-5)
	upper, _ := Of(x, math.Inf(-1), c.Usl, chart.Sigma{Value: c.Sd, Freedom: 1})
	expect.Within(t, "Cpu", upper.Cpk.Value, c.Cpu, 5e-5)
	lower, _ := Of(x, c.Lsl, math.Inf(1), chart.Sigma{Value: c.Sd, Freedom: 1})
	expect.Within(t, "Cpl", lower.Cpk.Value, c.Cpl, 5e-5)
	if !math.IsNaN(upper.Cp.Value) || !math.IsNaN(lower.Pp.Value) {
		t.Error("one limit has no Cp")
	}
	half := 1.96 * math.Sqrt(1./(9*2)+c.Cpk*c.Cpk/2) // the handbook's interval with n = 2
	expect.Within(t, "Ppk interval", both.Ppk.High-both.Ppk.Value, half, 1e-3)
}

// Reject rates of a centred process, the handbook's 6.1.6 table, which the normal integral meets:
// Cp 1.00 0.27 %, 2.00 2 ppb.
func TestOutside(t *testing.T) {
	for _, c := range []struct{ cp, want, unit float64 }{{1, 0.0027, 5e-6}, {2, 2e-9, 5e-11}} {
		d := 1 / math.Sqrt2
		r, err := Of([]float64{-d, d}, -3*c.cp, 3*c.cp, chart.Sigma{Value: 1, Freedom: 1})
		if err != nil {
			t.Fatal(err)
		}
		expect.Within(t, "outside", r.Outside, c.want, c.unit)
	}
}

// The 95 % limits hold the true index in 95 % of samples, within what 3000 samples can tell (five standard
// errors are 2 %). Cp's limits are exact for normal values; those of Cpk are approximate, so they get 1 % more.
func TestIntervalsCover(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 6))
	const runs, n = 3000, 40
	var cp, cpk, pp, ppk int
	hit := func(i Index, truth float64) int {
		if i.Low <= truth && truth <= i.High {
			return 1
		}
		return 0
	}
	for range runs {
		x := make([]float64, n)
		for i := range x {
			x[i] = 1 + random.NormFloat64()
		}
		_, _, sigma, err := chart.Individuals(x, 0)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Of(x, -3, 4, sigma) // truth: 7/6 and min(4, 3)/3
		if err != nil {
			t.Fatal(err)
		}
		cp, pp = cp+hit(r.Cp, 7./6), pp+hit(r.Pp, 7./6)
		cpk, ppk = cpk+hit(r.Cpk, 1), ppk+hit(r.Ppk, 1)
	}
	expect.Within(t, "Cp", float64(cp)/runs, 0.95, 0.02)
	expect.Within(t, "Pp", float64(pp)/runs, 0.95, 0.02)
	expect.Within(t, "Cpk", float64(cpk)/runs, 0.95, 0.03)
	expect.Within(t, "Ppk", float64(ppk)/runs, 0.95, 0.03)
}

// Under normal values the p-value is uniform: 20 000 samples, five standard errors. The published 5 % point of
// the modified statistic is 0.752 (Stephens 1974, from memory; met here).
func TestNormalityIsUniform(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 7))
	const runs = 20000
	for _, n := range []int{10, 50} {
		count := map[float64]int{0.01: 0, 0.05: 0, 0.25: 0, 0.5: 0, 0.9: 0}
		beyond := 0
		for range runs {
			x := make([]float64, n)
			for i := range x {
				x[i] = 5 + 0.1*random.NormFloat64()
			}
			r := AndersonDarling(x)
			for p := range count {
				if r.P < p {
					count[p]++
				}
			}
			if r.Statistic > 0.752 {
				beyond++
			}
		}
		for p, k := range count {
			good := 0.005 // the pieces follow the upper tail, where decisions are made
			if p > 0.5 {
				good = 0.04
			}
			expect.Within(t, "share below p", float64(k)/runs, p, 5*math.Sqrt(p*(1-p)/runs)+good)
		}
		expect.Within(t, "share beyond 0.752", float64(beyond)/runs, 0.05, 5*math.Sqrt(0.05*0.95/runs))
	}
}

func TestNormalityFindsTwoReels(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	x := make([]float64, 60)
	for i := range x {
		x[i] = random.NormFloat64() + 6*float64(i%2)
	}
	if r := AndersonDarling(x); !(r.P < 1e-6) {
		t.Errorf("two heaps: %+v", r)
	}
	x[0] = 1e6
	if r := AndersonDarling(x); r.P != 0 {
		t.Errorf("one value far out: %+v", r)
	}
	if r := AndersonDarling(x[:7]); !math.IsNaN(r.P) || r.Test == "" {
		t.Errorf("seven values: %+v", r)
	}
}

func TestTooFew(t *testing.T) {
	for _, x := range [][]float64{nil, {1}, {2, 2, 2}} {
		if _, err := Of(x, 0, 3, chart.Sigma{Value: 1, Freedom: 1}); err != ErrFew {
			t.Errorf("%v: %v", x, err)
		}
	}
}

func TestCallersOrderIsKept(t *testing.T) {
	x := []float64{3, 1, 2, 5, 4, 8, 7, 6}
	AndersonDarling(x)
	if x[0] != 3 || x[7] != 6 {
		t.Errorf("reordered: %v", x)
	}
}
