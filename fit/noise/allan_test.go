package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/cell"
	"offbeat/fit/stability"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// The mean is never better known than the record's own Allan deviation at its longest time allows: over trains of jitter, of random
// steps, of a period that walks, of one that jumps to and fro, and of all together. What white noise of the edges gives that deviation,
// and what chance does in one record of a hundred, is taken off first.
func TestNeverBelowAllan(t *testing.T) {
	for seed := range uint64(100) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		size := func() float64 { return math.Pow(10, -5+3*rnd.Float64()) * float64(rnd.IntN(2)) }
		white, walk, wander, jump := size(), size(), size()/10, size()
		tr := train.New(true, false)
		var e []transition.Edge
		x, y, up := 10.0, 0.0, 1.0
		for range 12 + rnd.IntN(150) {
			y += wander * rnd.NormFloat64()
			if rnd.IntN(20) == 0 {
				up = -up
			}
			p := 1 + y + jump*up + walk*rnd.NormFloat64()
			late := func() float64 { return white * rnd.NormFloat64() }
			e = append(e, transition.Edge{X: x + late(), Cell: 1e-7, Slope: 1, Rise: true}, transition.Edge{X: x + 0.4*p + late(), Cell: 1e-7, Slope: 1})
			x += p
		}
		tr.Add(e)
		tr.End()
		record := tr.Record()
		r, err := Estimate(record, Known{Lattice: cell.Lattice{Cell: 1e-7, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		points := stability.Family(&record.Series)
		last := points[len(points)-1]
		n, mean := last.Time/(r.High+r.Low), r.High+r.Low
		chance := distuv.ChiSquared{K: last.Freedom}.Quantile(1-byChance) / last.Freedom
		least := ((last.Allan*last.Allan*mean*mean-2e-14/(n*n))/chance - 3*r.White*r.White/(n*n)) * n / float64(record.Whole)
		u := period(r.Rows...)
		if u < 0.99*least {
			t.Errorf("seed %d: mean to %.3g, the Allan deviation over %.0f of %d periods allows %.3g", seed, math.Sqrt(u), n, record.Whole, math.Sqrt(least))
		}
		// Where no noise at all was found, all of the deviation is of the mean.
		alone := &model{c: newChain(record.Cycles, 1)}
		own := period(alone.allan(&record.Series, 1, nil, func(float64) float64 { return 0 }))
		if want := last.Allan * last.Allan * mean * mean / chance * n / float64(record.Whole); !(math.Abs(own-want) <= (0.02+2/float64(record.Whole))*want+1e-24) {
			t.Errorf("seed %d: without noise the mean is left open by %.4g, its deviation says %.4g", seed, math.Sqrt(own), math.Sqrt(want))
		}
	}
}

// What the noise that was found explains of a train's Allan deviation is not counted again: over trains of white noise, found or known, of
// random steps and of a period that walks, the component is there no oftener than chance has it.
func TestAllanIsCountedOnce(t *testing.T) {
	for kind := range 4 {
		there := 0
		for seed := range uint64(12) {
			rnd := rand.New(rand.NewPCG(seed, 71))
			var e []float64
			x, y := 0.0, 0.0
			size := [4][3]float64{{0.3}, {0.3}, {0, 0.3}, {0, 0, 0.1}}[kind] // of edges, steps and the period's walk
			for range 40 {
				e = append(e, x+size[0]*rnd.NormFloat64(), x+40+size[0]*rnd.NormFloat64())
				y += size[2] * rnd.NormFloat64()
				x += 100 + y + size[1]*rnd.NormFloat64()
			}
			var k Known
			if kind == 1 {
				k.White = [2]float64{0.06, 0.12}
			}
			r, err := Estimate(recordOf(e), k)
			if err != nil {
				t.Fatal(err)
			}
			for _, row := range r.Rows {
				if row.Name == allanName && row.High > 0 {
					there++
				}
			}
		}
		if there > 1 {
			t.Errorf("kind %d: %d of 12 trains have an Allan deviation that nothing explains", kind, there)
		}
	}
}

// The Allan variance over n periods is half the mean square of what two neighbouring means of n periods differ by: a weighted sum of the edges
// between and around them, of which each has white noise, and each period a step. Flicker's hangs on no n, that of a walk goes with it.
func TestAllanOfAnAnswer(t *testing.T) {
	for _, n := range []int{1, 3, 20} {
		var edges, steps float64
		for _, w := range []float64{1, -2, 1} {
			edges += w * w / float64(2*n*n)
		}
		for range 2 * n {
			steps += 1 / float64(2*n*n)
		}
		a := answer{white: 0.3, step: 0.7}
		near(t, "Allan variance", a.allan(float64(n), [2]float64{0.02, 0.06}, [2]float64{0.011, 0.013}, 60), edges*(0.3+0.04)+steps*0.7+0.011+0.013*float64(n)/60, 1e-12)
	}
}

// A short train: what so few cycles may hide is open whatever its noise is taken for; nothing is said that is not there; and whether hum can show
// hangs on two periods of 50 Hz.
func TestShortTrain(t *testing.T) {
	for _, c := range []struct {
		period float64 // in units of which 43 are two periods of 50 Hz
		unseen bool
	}{{9.9, true}, {10.1, false}} {
		var e []float64
		for k := range 5 {
			e = append(e, c.period*float64(k), c.period*float64(k)+3)
		}
		r, err := Estimate(recordOf(e), Known{Second: 43 / 0.04})
		if err != nil {
			t.Fatal(err)
		}
		names := map[string]float64{}
		for _, row := range r.Rows {
			names[row.Name] = period(row)
		}
		few := names["noise that so few cycles may hide"]
		if !(few > 0) || !(r.WhiteAlone >= few) || !(r.WithWalk >= few) {
			t.Errorf("few cycles hide %g of %g without and %g with a walk", few, r.WhiteAlone, r.WithWalk)
		}
		for _, name := range []string{LatticeName, slowName, allanName, humName} {
			if v, there := names[name]; there {
				t.Errorf("%s adds %g", name, v)
			}
		}
		if r.Slow.HumUnseen != c.unseen {
			t.Errorf("%+v: hum unseen %v", c, r.Slow.HumUnseen)
		}
	}
}
