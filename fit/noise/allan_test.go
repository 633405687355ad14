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
