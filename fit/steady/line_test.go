package steady

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// noisy are the classes of noise and drift that a steady train may have, as sizes relative to the period.
var noisy = map[string]struct{ white, walk, flicker, wander, drift float64 }{
	"white": {white: 1e-3}, "walk": {walk: 1e-3}, "both": {white: 1e-3, walk: 1e-3}, "flicker": {flicker: 1e-3},
	"wander": {wander: 1e-3}, "white and wander": {white: 3e-3, wander: 3e-4}, "drift": {white: 1e-3, drift: 0.02},
}

// periods of a train with noise, of unit length.
func noiseOf(rnd *rand.Rand, name string, n int) []float64 {
	c := noisy[name]
	v := make([]float64, n)
	var driven []float64 // Kasdin's filter of order 1 makes flicker
	last, slow := c.white*rnd.NormFloat64(), 0.0
	for i := range v {
		next := c.white * rnd.NormFloat64()
		slow += c.wander * rnd.NormFloat64()
		v[i] = 1 + next - last + c.walk*rnd.NormFloat64() + slow + c.drift*float64(i)/float64(n)
		last = next
		if c.flicker > 0 {
			driven = append(driven, c.flicker*rnd.NormFloat64())
			h := 1.0
			for k := i; k >= 0; k-- {
				v[i] += h * driven[k]
				h *= (float64(i-k) + 0.5) / float64(i-k+1)
			}
		}
	}
	return v
}

// The stated chance of a line, of a pattern and of a comb is no less than how often noise of each class has one: a value below 1 in 10, 1 in
// 100 and 1 in 1,000 is as rare as that (a comb's is stated below 1 in 1,000 alone). No train is called modulated.
func TestNoiseHasNoLine(t *testing.T) {
	for name := range noisy {
		for _, n := range []int{24, 60, 150} {
			const trains = 120
			var rare [3][3]int
			for seed := range uint64(trains) {
				v := [][]float64{noiseOf(rand.New(rand.NewPCG(seed, uint64(n))), name, n)}
				s := newSpectrum(v)
				for i, f := range []tone{findLine(&s), findPattern(v, &s), findComb(v[0], false)} {
					for k, p := range []float64{0.1, 0.01, 0.001} {
						if f.chance < p {
							rare[i][k]++
						}
					}
					if f.every > 0 {
						t.Errorf("%s, %d values, seed %d: %+v", name, n, seed, f)
					}
				}
			}
			for i, r := range rare {
				for k, p := range []float64{0.1, 0.01, 0.001} {
					// Four standard deviations of a count, and one.
					if want := p * trains; float64(r[k]) > want+4*math.Sqrt(want)+1 {
						t.Errorf("%s, %d values, %s: %d of %d have a chance below %g", name, n, [...]string{"line", "pattern", "comb"}[i], r[k], trains, p)
					}
				}
			}
		}
	}
}

// steadyTrain draws a steady train of the class: how many cycles, its times, the size of its noise, what its high times have of their
// own, and its resolution, of none or of a tenth of a unit to three.
func steadyTrain(rnd *rand.Rand, name string) (c *Census, x Context) {
	n := int(10 * math.Pow(60, rnd.Float64()))
	high, low := 20*math.Pow(15, rnd.Float64()), 20*math.Pow(15, rnd.Float64())
	size := 1e-5 * math.Pow(3e3, rnd.Float64())
	if name == "wander" {
		size = min(size, 0.1/math.Sqrt(float64(n))) // what wanders by more is no steady train
	}
	own := size * 1e-3 * float64(rnd.IntN(2)) * (high + low)
	c, x = &Census{}, Context{Usual: [2]float64{low, high}}
	if rnd.IntN(4) > 0 {
		x.Cell = 0.1 * math.Pow(30, rnd.Float64())
	}
	add := func(t float64, rise bool) {
		if x.Cell > 0 {
			t = math.Floor(t/x.Cell) * x.Cell
		}
		c.Add(t, rise, false)
	}
	at := (high + low) * rnd.Float64()
	for _, v := range noiseOf(rnd, name, n) {
		f := 1 + size*1e3*(v-1)
		add(at, true)
		add(at+high*f+own*rnd.NormFloat64(), false)
		at += (high + low) * f
	}
	add(at, true)
	return c, x
}

// Of 1,000 steady trains of each class one is called modulated at most, whatever their noise and their resolution. OFFBEAT_STUDY is
// how many are drawn, by seeds that tuned nothing.
func TestSteadyIsNotModulated(t *testing.T) {
	trains, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	seeds := uint64(9000)
	if trains == 0 {
		trains, seeds = 25, 0
	}
	all := 0
	for name := range noisy {
		named := 0
		for seed := range uint64(trains) {
			c, x := steadyTrain(rand.New(rand.NewPCG(seeds+seed, 771)), name)
			if j := c.Judge(x); j.Kind != Steady || j.Modulation.Amplitude > 0 {
				named++
				t.Logf("%s, seed %d, cell %.2g: %+v", name, seeds+seed, x.Cell, j)
			}
		}
		t.Logf("%-18s %d of %d trains are called modulated", name, named, trains)
		all += named
	}
	if want := float64(trains*len(noisy)) / 1000; float64(all) > want+3*math.Sqrt(want) {
		t.Errorf("%d of %d trains are called modulated", all, trains*len(noisy))
	}
}

// trainOf makes a census of edges whose periods are those given, a third of each high, rounded to cells (0: not).
func trainOf(periods []float64, cell float64) *Census {
	c, at := &Census{}, 0.0
	add := func(x float64, rise bool) {
		if cell > 0 {
			x = math.Floor(x/cell) * cell
		}
		c.Add(x, rise, false)
	}
	for _, p := range periods {
		add(at, true)
		add(at+p/3, false)
		at += p
	}
	add(at, true)
	return c
}

// Rounding to cells is no modulation, whatever the period's share of a cell: a third, a hundredth, nearly whole, and with noise
// that is less than a cell or more.
func TestRoundingIsNoModulation(t *testing.T) {
	for seed := range uint64(200) {
		rnd := rand.New(rand.NewPCG(seed, 9))
		p := math.Floor(20+300*rnd.Float64()) + [...]float64{0, 0.5, 1.0 / 3, 0.25, 0.01, 0.003, rnd.Float64()}[seed%7]
		n := 30 + int(seed%5)*60
		noise := noiseOf(rnd, []string{"white", "walk"}[seed%2], n)
		size := []float64{0, 0.01, 0.1, 1}[seed%4] / p / 1e-3
		for i := range noise {
			noise[i] = p * (1 + size*(noise[i]-1))
		}
		if j := trainOf(noise, 1).Judge(Context{Usual: [2]float64{p * 2 / 3, p / 3}, Cell: 1}); j.Modulation.Amplitude > 0 || j.Kind != Steady {
			t.Errorf("seed %d, period %g, %d cycles, noise of %g cells: %+v", seed, p, n, size*p*1e-3, j)
		}
	}
}

// A modulation of 0.1 to 3 % is found and named: how often it recurs, and how large it is.
func TestModulationIsNamed(t *testing.T) {
	forms := map[string]func(phase, every float64) float64{
		"saw": func(p, _ float64) float64 { return p }, "sine": func(p, _ float64) float64 { return math.Sin(2 * math.Pi * p) },
		"square":    func(p, _ float64) float64 { return math.Copysign(1, p-0.5) },
		"one in so": func(p, every float64) float64 { return math.Max(0, math.Copysign(1, 1/every-p-1e-9)) },
	}
	for name, form := range forms {
		for seed := range uint64(40) {
			rnd := rand.New(rand.NewPCG(seed, 10))
			n := 60 + rnd.IntN(400)
			every := 3 * math.Pow(float64(n)/5/3, rnd.Float64())
			if name == "one in so" {
				every = float64(2 + rnd.IntN(12))
			}
			depth := 0.002 * math.Pow(30, rnd.Float64())
			v := noiseOf(rnd, "walk", n)
			sum, square := 0.0, 0.0
			for i := range v {
				_, p := math.Modf(float64(i)/every + 1e-6)
				f := depth * form(p, every)
				v[i] = 1000 * (1 + 0.1*(v[i]-1) + f)
				sum, square = sum+f, square+f*f
			}
			rms := math.Sqrt(square/float64(n) - sum*sum/float64(n*n))
			j := trainOf(v, 0).Judge(Context{Usual: [2]float64{2000.0 / 3, 1000.0 / 3}})
			m := j.Modulation
			if rms < 5e-4 && m.Amplitude == 0 {
				continue // as small as the noise
			}
			if !(math.Abs(m.Amplitude/rms-1) <= 0.3) || !(math.Abs(m.Every/every-1) <= 0.1) && !(math.Abs(m.Every/every-2) <= 0.1) && !(math.Abs(m.Every/every-3) <= 0.1) {
				t.Errorf("%s of %.2g %% rms every %.3g of %d cycles: %v, %v", name, 100*rms, every, n, j.Kind, m)
			}
			if rms > 1.2*modulated && j.Kind != Modulated {
				t.Errorf("%s of %.2g %% rms every %.3g of %d cycles passes for steady", name, 100*rms, every, n)
			}
		}
	}
}

// Few teeth of a saw are found too: of 30 to 60 cycles, four to ten teeth of 1 to 40 %.
func TestFewTeeth(t *testing.T) {
	const trains = 60
	found := 0
	for seed := range uint64(trains) {
		rnd := rand.New(rand.NewPCG(seed, 11))
		n := 30 + rnd.IntN(30)
		every, offset, depth := float64(n)/(4+6*rnd.Float64()), rnd.Float64(), 0.01*math.Pow(40, rnd.Float64())
		v := noiseOf(rnd, "walk", n)
		for i := range v {
			_, p := math.Modf(float64(i)/every + offset)
			v[i] = 1000 * (1 + 0.1*(v[i]-1) + depth*p)
		}
		if j := trainOf(v, 0).Judge(Context{Usual: [2]float64{2000.0 / 3, 1000.0 / 3}}); j.Modulation.Every > 0 {
			found++
		}
	}
	if found < trains*9/10 {
		t.Errorf("%d of %d saws found", found, trains)
	}
	t.Logf("%d of %d saws found", found, trains)
}
