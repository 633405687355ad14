package stability

import (
	"math"
	"math/rand/v2"
	"testing"
)

// train draws edges of a period of 7.2 ms that follows z, with both noises.
func train(n int, slope, white, walk float64, z func(t float64) float64, seed uint64) (start, at []float64) {
	rnd := rand.New(rand.NewPCG(seed, 9))
	t := 0.3
	for range n {
		start = append(start, t+white*rnd.NormFloat64())
		at = append(at, z(t))
		t += 7.2e-3*(1+slope*z(t)) + walk*rnd.NormFloat64()
	}
	return start, at
}

// Over simulated trains the error of the drift over its stated uncertainty has a root mean square near one, whether the
// noise is white, wanders, or both. 120 normal values: 0.87 to 1.13 at two sigma, six are looked at.
func TestDriftIsHonest(t *testing.T) {
	time := func(t float64) float64 { return t }
	warm := func(t float64) float64 { return 25 + 10*math.Sin(t/3) }
	for _, c := range []struct {
		name        string
		n           int
		slope       float64
		white, walk float64
		z           func(float64) float64
		period      float64 // mean of z over the train enters the mean period: not compared where 0
	}{
		{"white, over time", 300, 2e-5, 3e-6, 0, time, 0},
		{"walk, over time", 300, 2e-5, 0, 3e-6, time, 0},
		{"both, over time", 1000, -1e-5, 1e-5, 1e-6, time, 0},
		{"both, few cycles", 20, 0, 1e-6, 1e-6, time, 7.2e-3},
		{"walk, over temperature", 800, 3e-4, 0, 3e-6, warm, 0},
		{"both, over temperature", 800, -2e-4, 1e-5, 1e-6, warm, 0},
	} {
		var s, p float64
		const runs = 120
		for seed := range uint64(runs) {
			start, z := train(c.n, c.slope, c.white, c.walk, c.z, seed)
			d, err := FitDrift(start, z)
			if err != nil {
				t.Fatal(err)
			}
			// The slope is relative to the period at the mean of z.
			mean := Summarise(z).Mean
			e := (d.Slope.Value - c.slope/(1+c.slope*mean)) / d.Slope.Uncertainty
			s += e * e / runs
			e = (d.Period.Value - c.period) / d.Period.Uncertainty
			p += e * e / runs
		}
		t.Logf("%s: slope %.2f", c.name, math.Sqrt(s))
		least := 0.8
		if c.walk == 0 {
			least = 0.65 // a walk too small to be seen cannot be ruled out, so the statement is wider than white noise alone needs
		}
		if r := math.Sqrt(s); r < least || r > 1.25 {
			t.Errorf("%s: error of the slope over its uncertainty has root mean square %.2f", c.name, r)
		}
		if r := math.Sqrt(p); c.period > 0 && (r < 0.75 || r > 1.3) {
			t.Errorf("%s: error of the period over its uncertainty has root mean square %.2f", c.name, r)
		}
	}
}

// Both noises are found where both are there, and a gap of whole periods changes nothing.
func TestNoisesAreToldApart(t *testing.T) {
	start, z := train(3000, 0, 8e-6, 2e-6, func(t float64) float64 { return t }, 4)
	start, z = append(start[:1000:1000], start[1200:]...), append(z[:1000:1000], z[1200:]...)
	d, err := FitDrift(start, z)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "white noise", d.White.Value, 8e-6, 4*d.White.Uncertainty/8e-6)
	near(t, "random step", d.Walk.Value, 2e-6, 4*d.Walk.Uncertainty/2e-6)
	if d.White.Uncertainty > 0.5e-6 || d.Walk.Uncertainty > 0.5e-6 {
		t.Errorf("noises known to %.2g and %.2g s", d.White.Uncertainty, d.Walk.Uncertainty)
	}
	near(t, "period", d.Period.Value, 7.2e-3, 4*d.Period.Uncertainty/7.2e-3)
}

func TestDriftNeedsCycles(t *testing.T) {
	start, z := train(7, 0, 1e-6, 0, func(t float64) float64 { return t }, 1)
	if _, err := FitDrift(start, z); err == nil {
		t.Error("seven edges gave a drift")
	}
	start, z = train(50, 0, 1e-6, 0, func(float64) float64 { return 25 }, 1)
	if _, err := FitDrift(start, z); err == nil {
		t.Error("a constant temperature gave a drift")
	}
}
