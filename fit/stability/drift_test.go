package stability

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
)

// share of the high time in the simulated period, and by how much more than the period it follows the quantity.
const (
	highShare  = 0.55
	highFollow = 1.2
)

// train draws cycles of a period of 7.2 ms that follows z, with both noises: the high time highFollow times as much as
// the period, the low time the rest.
func train(n int, slope, white, walk float64, z func(t float64) float64, seed uint64) *fit.Series {
	rnd := rand.New(rand.NewPCG(seed, 9))
	s := &fit.Series{Every: 1}
	t := 0.3
	rise := t + white*rnd.NormFloat64()
	low := (1 - highShare*highFollow) / (1 - highShare)
	for range n {
		s.Start = append(s.Start, rise)
		t += highShare * (7.2e-3*(1+highFollow*slope*z(t)) + walk/math.Sqrt(highShare)*rnd.NormFloat64())
		fall := t + white*rnd.NormFloat64()
		t += (1 - highShare) * (7.2e-3*(1+low*slope*z(t)) + walk/math.Sqrt(1-highShare)*rnd.NormFloat64())
		next := t + white*rnd.NormFloat64()
		s.High, s.Low = append(s.High, fall-rise), append(s.Low, next-fall)
		rise = next
	}
	return s
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
		var s, p, h, l float64
		runs := 48
		if c.n < 100 {
			runs = 120
		}
		for seed := range uint64(runs) {
			cycles := train(c.n, c.slope, c.white, c.walk, c.z, seed)
			d, err := FitDrift(cycles, c.z, 0)
			if err != nil {
				t.Fatal(err)
			}
			// A slope is relative to the time at the mean of z.
			z := make([]float64, len(cycles.Start))
			for i, t := range cycles.Start {
				z[i] = c.z(t)
			}
			mean := Summarise(z).Mean
			off := func(got fit.Estimate, follow float64) float64 {
				e := (got.Value - follow*c.slope/(1+follow*c.slope*mean)) / got.Uncertainty
				return e * e / float64(runs)
			}
			s += off(d.Slope, 1)
			h += off(d.High, highFollow)
			l += off(d.Low, (1-highShare*highFollow)/(1-highShare))
			e := (d.Period.Value - c.period) / d.Period.Uncertainty
			p += e * e / float64(runs)
		}
		t.Logf("%s: slope of period %.2f, of high %.2f, of low %.2f", c.name, math.Sqrt(s), math.Sqrt(h), math.Sqrt(l))
		for _, q := range []float64{h, l} {
			if r := math.Sqrt(q); r < 0.65 || r > 1.25 {
				t.Errorf("%s: error of the slope of high or low over its uncertainty has root mean square %.2f", c.name, r)
			}
		}
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
	s := train(3000, 0, 8e-6, 2e-6, func(t float64) float64 { return t }, 4)
	cut := func(x []float64) []float64 { return append(x[:1000:1000], x[1200:]...) }
	s.Start, s.High, s.Low = cut(s.Start), cut(s.High), cut(s.Low)
	d, err := FitDrift(s, func(t float64) float64 { return t }, 0)
	if err != nil {
		t.Fatal(err)
	}
	expect.Near(t, "white noise", d.White.Value, 8e-6, 4*d.White.Uncertainty/8e-6)
	expect.Near(t, "random step", d.Walk.Value, 2e-6, 4*d.Walk.Uncertainty/2e-6)
	if d.White.Uncertainty > 0.5e-6 || d.Walk.Uncertainty > 0.5e-6 {
		t.Errorf("noises known to %.2g and %.2g s", d.White.Uncertainty, d.Walk.Uncertainty)
	}
	expect.Near(t, "period", d.Period.Value, 7.2e-3, 4*d.Period.Uncertainty/7.2e-3)
	if got, want := len(longest(s.Start)), 1800; got != want {
		t.Errorf("the longest run without a gap has %d starts, want %d", got, want)
	}
}

// A thinned series tells the same noises: its gaps are whole periods.
func TestThinnedSeries(t *testing.T) {
	s := train(6000, 0, 8e-6, 4e-6, func(t float64) float64 { return t }, 11)
	thin := &fit.Series{Every: 4}
	for i := 0; i < len(s.Start); i += 4 {
		thin.Start, thin.High, thin.Low = append(thin.Start, s.Start[i]), append(thin.High, s.High[i]), append(thin.Low, s.Low[i])
	}
	d, err := FitDrift(thin, func(t float64) float64 { return t }, 0)
	if err != nil {
		t.Fatal(err)
	}
	expect.Near(t, "white noise", d.White.Value, 8e-6, 4*d.White.Uncertainty/8e-6)
	expect.Near(t, "random step", d.Walk.Value, 4e-6, 4*d.Walk.Uncertainty/4e-6)
	expect.Near(t, "period", d.Period.Value, 7.2e-3, 4*d.Period.Uncertainty/7.2e-3)
}

// When a record begins has no say, and what is timed four times as slowly drifts a quarter as fast: slope and range, with every
// uncertainty, rounding's too.
func TestDriftGoesWithTheClock(t *testing.T) {
	const cell = 1e-5
	was := train(60, 3e-4, 8e-6, 4e-6, func(t float64) float64 { return t }, 12)
	now := &fit.Series{Every: 1}
	for i, at := range was.Start {
		was.Start[i] = math.Round(at/cell) * cell
		was.High[i], was.Low[i] = math.Round(was.High[i]/cell)*cell, math.Round(was.Low[i]/cell)*cell
		now.Start, now.High, now.Low = append(now.Start, 4*was.Start[i]+5000*cell), append(now.High, 4*was.High[i]), append(now.Low, 4*was.Low[i])
	}
	itself := func(t float64) float64 { return t }
	a, err := FitDrift(was, itself, cell)
	if err != nil {
		t.Fatal(err)
	}
	b, err := FitDrift(now, itself, 4*cell)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		a, b   fit.Estimate
		factor float64
	}{{"period", a.Period, b.Period, 4}, {"slope", a.Slope, b.Slope, 0.25}, {"of high", a.High, b.High, 0.25}, {"of low", a.Low, b.Low, 0.25}, {"white", a.White, b.White, 4}, {"walk", a.Walk, b.Walk, 4}} {
		if u := c.a.Uncertainty * c.factor; !(math.Abs(c.b.Value-c.a.Value*c.factor) <= 1e-3*u) || !(math.Abs(c.b.Uncertainty/u-1) <= 1e-3) {
			t.Errorf("%s: %v ± %v, want %v times %v ± %v", c.name, c.b.Value, c.b.Uncertainty, c.factor, c.a.Value, c.a.Uncertainty)
		}
	}
	if !(math.Abs(b.Range/a.Range-4) <= 1e-9) || !(math.Abs(b.Rounded-a.Rounded) <= 1e-6) || a.Rounded < 0.9 {
		t.Errorf("over %v and %v s, rounded %v and %v", a.Range, b.Range, a.Rounded, b.Rounded)
	}
}

// White noise of each edge makes the Allan deviation of the period fall as one over the averaging time, from the square
// root of 3 times the noise over the period (NIST SP 1065, 5.2: second differences of a white phase have 6 times its
// variance); a random step of each period from that step over the period as one over its root.
func TestFamilyOfKnownNoise(t *testing.T) {
	for _, c := range []struct{ white, walk float64 }{{8e-6, 0}, {0, 4e-6}} {
		for _, p := range Family(train(4000, 0, c.white, c.walk, func(t float64) float64 { return 0 }, 3)) {
			m := p.Time / 7.2e-3
			want := math.Sqrt(3)*c.white/7.2e-3/m + c.walk/7.2e-3/math.Sqrt(m)
			// The scatter of the estimate is about one over the root of the independent differences (n/m of them).
			if tolerance := 3.5 / math.Sqrt(4000/m); !(math.Abs(p.Allan/want-1) <= tolerance) {
				t.Errorf("noises %g and %g s, %.0f periods: %.3g, want %.3g within %.0f %%", c.white, c.walk, m, p.Allan, want, 100*tolerance)
			}
		}
	}
}

// Edges rounded to whole sample intervals follow the beat of period and lattice. Without a drift none may be claimed: of
// 200 trains none, or one by chance, shows one at three standard uncertainties (0.3 % of normal values lie beyond).
func TestRoundedEdgesShowNoDrift(t *testing.T) {
	const cell = 20e-6
	time := func(t float64) float64 { return t }
	claimed := 0
	for seed := range 200 {
		rnd := rand.New(rand.NewPCG(uint64(seed), 6))
		n := []int{15, 50, 300, 1000}[seed%4]
		period := 7.27e-3 * (1 + 0.01*rnd.Float64())
		if seed%3 == 0 { // less than two beats
			period = cell * (364 + 2*rnd.Float64()/float64(n))
		}
		noise := []float64{0, 0.05, 0.3}[seed/4%3] * cell
		edge := func(t float64) float64 { return math.Floor((t+noise*rnd.NormFloat64())/cell) * cell }
		s := &fit.Series{}
		first := cell * rnd.Float64()
		rise := edge(first)
		for i := range n {
			at := first + float64(i)*period
			fall, next := edge(at+0.5463*period), edge(at+period)
			s.Start, s.High, s.Low = append(s.Start, rise), append(s.High, fall-rise), append(s.Low, next-fall)
			rise = next
		}
		d, err := FitDrift(s, time, cell)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(d.Slope.Value) <= 3*d.Slope.Uncertainty) {
			claimed++
		}
	}
	if claimed > 1 {
		t.Errorf("%d of 200 trains without a drift show one", claimed)
	}
	// Interpolated edges fall anywhere, and keep their own uncertainty.
	s := train(1000, 0, 1e-6, 0, time, 5)
	a, err := FitDrift(s, time, 0)
	if err != nil {
		t.Fatal(err)
	}
	b, err := FitDrift(s, time, 1.037*cell)
	if err != nil {
		t.Fatal(err)
	}
	// 2000 phases that a beat spreads evenly have next to no resultant, and what is left of it weighs little.
	if r := rounded(s, 1.037*cell); r > 0.02 || b.Slope.Uncertainty > 3*a.Slope.Uncertainty {
		t.Errorf("edges anywhere count as rounded by %.3f; slope known to %.3g, and %.3g with that", r, a.Slope.Uncertainty, b.Slope.Uncertainty)
	}
}

func TestDriftNeedsCycles(t *testing.T) {
	time := func(t float64) float64 { return t }
	if _, err := FitDrift(train(7, 0, 1e-6, 0, time, 1), time, 0); err == nil {
		t.Error("seven cycles gave a drift")
	}
	if _, err := FitDrift(train(50, 0, 1e-6, 0, time, 1), func(float64) float64 { return 25 }, 0); err == nil {
		t.Error("a constant temperature gave a drift")
	}
	if Family(train(5, 0, 1e-6, 0, time, 1)) != nil {
		t.Error("five cycles gave a family of deviations")
	}
}

// BenchmarkFitDrift is a series as long as one is kept.
func BenchmarkFitDrift(b *testing.B) {
	time := func(t float64) float64 { return t }
	s := train(4096, 1e-5, 8e-6, 2e-6, time, 1)
	for b.Loop() {
		if _, err := FitDrift(s, time, 0); err != nil {
			b.Fatal(err)
		}
	}
}
