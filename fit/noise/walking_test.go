package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// inWholeCells is a chain of cycles from a random walk, of whose edges but the cells are known, and the cells' lower sides less nominal.
func inWholeCells(rnd *rand.Rand, cycles int, high, low, stepHigh, stepLow float64) (*chain, []float64) {
	c, x, nominal := &chain{single: true, h0: high, l0: low}, 5+rnd.Float64(), 0.0
	var side []float64
	for k := range 2 * cycles {
		dh, dl := float64(k%2), float64(1-k%2)
		if k == 0 {
			dl = 0
		}
		nominal += dh*high + dl*low
		c.add(math.Floor(x)+0.5, k%2 == 0, k == 0, dh, dl, 1, float64(k/2))
		side = append(side, math.Floor(x)-c.x[k]+c.y[k])
		if k%2 == 0 {
			x += high + stepHigh*rnd.NormFloat64()
		} else {
			x += low + stepLow*rnd.NormFloat64()
		}
	}
	return c, side
}

// The answer of few edges in known cells against all that lies in them: starts, high and low times drawn evenly, steps and white noise as
// stated, and what leaves a cell is left out.
func TestWalkInCellsAgainstRejection(t *testing.T) {
	const cycles, reach, draws = 4, 0.6, 400000
	for seed := range uint64(4) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		e := excess{white: math.Pow(0.05*float64(seed/2), 2), high: math.Pow(0.02*float64(seed), 2), low: math.Pow(0.1*float64(seed%2), 2)}
		c, side := inWholeCells(rnd, cycles, 20.3, 31.9, 0.02, 0.05)
		kept := 0.0
		var h, l, hh, ll, hl float64
		for range draws {
			high, low := reach*(2*rnd.Float64()-1), reach*(2*rnd.Float64()-1)
			x := side[0] - 0.5 + 2*rnd.Float64()
			inside := true
			for i, s := range side {
				if i > 0 {
					x += c.dh[i]*(high+math.Sqrt(e.high)*rnd.NormFloat64()) + c.dl[i]*(low+math.Sqrt(e.low)*rnd.NormFloat64())
				}
				if seen := x + math.Sqrt(e.white)*rnd.NormFloat64() - s; seen < 0 || seen > 1 {
					inside = false
					break
				}
			}
			if inside {
				kept++
				h, l, hh, hl, ll = h+high, l+low, hh+high*high, hl+high*low, ll+low*low
			}
		}
		h, l, hh, hl, ll = h/kept, l/kept, hh/kept, hl/kept, ll/kept
		want := inCells{math.Log(kept / draws * 2 * 4 * reach * reach), h, l, budget.Row{High: hh - h*h, Both: hl - h*l, Low: ll - l*l}}
		got := c.propagate(side, e, math.Inf(-1), new(filter))
		u := math.Sqrt(want.row.High)
		if !(math.Abs(got.log-want.log) <= 0.15) || !(math.Abs(got.high-want.high) <= 0.15*u) || !(math.Abs(got.low-want.low) <= 0.15*u) ||
			!(math.Abs(got.row.High/want.row.High-1) <= 0.2) || !(math.Abs(got.row.Low/want.row.Low-1) <= 0.2) || !(math.Abs(period(got.row)/period(want.row)-1) <= 0.2) {
			t.Errorf("seed %d: %+v, of %.0f draws %+v", seed, got, kept, want)
		}
	}
}

// Without a walk the answer is that of the lines through the cells, which package cell integrates over.
func TestNoWalkInCellsIsALine(t *testing.T) {
	for seed, cycles := range []int{6, 20, 60, 150} {
		c, side := inWholeCells(rand.New(rand.NewPCG(uint64(seed), 13)), cycles, 20.3, 31.937, 0, 0)
		e, _, _ := c.edges(&floors{width: [2]float64{1, 1}, places: true})
		want := cell.Solve(&e, c.h0+c.l0, c.cycles)
		got := c.propagate(side, excess{white: 1e-5}, math.Inf(-1), new(filter))
		if !(math.Abs(got.log-want.Log) <= 0.7) || !(math.Abs(c.h0+got.high-want.High) <= 0.4*math.Sqrt(want.Row.High)) || !(math.Abs(c.h0+c.l0+got.high+got.low-want.Period) <= 0.4*math.Sqrt(period(want.Row))) ||
			!(math.Abs(math.Log(got.row.High/want.Row.High)) <= 0.6) || !(math.Abs(math.Log(period(got.row)/period(want.Row))) <= 0.6) {
			t.Errorf("%d cycles: %+v, of all lines log %.2f, high %.4f, period %.5f, %+v", cycles, got, want.Log, want.High-c.h0, want.Period-c.h0-c.l0, want.Row)
		}
	}
}

// Edges that all lie in one cell of their period: whole steps swing between two answers, at 300 cycles to no end, and half steps settle.
// The lines through such cells leave start, period and high time an area: offsets of 1 - n |p| each, where the period is off by p over n.
func TestSameCellsSettle(t *testing.T) {
	for _, cycles := range []int{30, 50, 300} {
		c, side := inWholeCells(rand.New(rand.NewPCG(1, 13)), cycles, 20, 32, 0, 0)
		n := float64(cycles - 1)
		got := c.propagate(side, excess{white: 1e-5}, math.Inf(-1), new(filter))
		if log, high := math.Log(2/(3*n)), 0.1; !(math.Abs(got.log-log) <= 1.5) || !(math.Abs(math.Log(got.row.High/high)) <= 1.5) {
			t.Errorf("%d cycles: log %.2f, variance of the high time %.3f, by the area %.2f, %.3f", cycles, got.log, got.row.High, log, high)
		}
	}
}

// Walks of a thousandth to a tenth of a cell in a time. With the walk told by three bends of the line, each taken as normal, as it was,
// the error of the period had a root mean square of 2.1 times what is stated. Of 720 such trains it is 1.4, and 2.5 without the walk; of sixty
// of one seed or another 1.0 to 1.7, which the bounds let pass.
func TestWalkBelowTheCells(t *testing.T) {
	const trains, cycles = 60, 100
	var ratio float64
	for i := range trains {
		rnd := rand.New(rand.NewPCG(uint64(i), 15))
		high, low := 20+100*rnd.Float64(), 20+100*rnd.Float64()
		c, _ := inWholeCells(rnd, cycles, high, low, 0.001*math.Pow(100, rnd.Float64()), 0.001*math.Pow(100, rnd.Float64()))
		var tr []train.Cycle
		for k := range cycles {
			tr = append(tr, train.Cycle{Rise: c.x[2*k], Fall: c.x[2*k+1], Index: float64(k), N: 1, Start: k == 0})
		}
		r, err := Estimate(&train.Record{Cycles: tr, Sample: tr, Whole: cycles - 1, Highs: cycles, Lows: cycles - 1}, Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		e := r.High + r.Low - high - low
		ratio += e * e / variance(r) / trains
	}
	if z := math.Sqrt(ratio); !(z >= 0.5 && z <= 1.8) {
		t.Errorf("error of the period over its stated uncertainty has root mean square %.2f, want 0.5 to 1.8", z)
	}
}

// The answer over a walk's prior is the average over a grid of its quantiles: sizes even in their logarithm, high and low times' shares of it
// lognormal about the times' own ratio, white noise of package cell. What steps of more than a limit show is no part of the answer, but their noise is told.
func TestWalkOverItsPrior(t *testing.T) {
	for seed := range uint64(2) {
		c, side := inWholeCells(rand.New(rand.NewPCG(seed, 18)), 8, 20.3, 31.9, 0.05, 0.1)
		lo, hides, hi := math.Log(1e-4), math.Log([]float64{0.02, 0.004}[seed]), math.Log(0.09)
		var sum, n float64
		var h, l, hh, hl, ll, high, low, far, further float64
		const sizes, splits, whites = 24, 8, 6
		for i := range sizes * splits * whites {
			q := math.Exp(lo + (hi-lo)*(float64(i%sizes)+0.5)/sizes)
			ratio := 20.3 / 31.9 * math.Exp(splitSpread*distuv.UnitNormal.Quantile((float64(i/sizes%splits)+0.5)/splits))
			sigma := cell.White((float64(i/sizes/splits) + 0.5) / whites)
			e := excess{sigma * sigma, q * ratio / (1 + ratio), q / (1 + ratio)}
			a := c.propagate(side, e, math.Inf(-1), new(filter))
			w := math.Exp(a.log)
			if n++; q > math.Exp(hides) {
				far, further = far+w, further+w*q
				continue
			}
			sum, h, l, high, low = sum+w, h+w*a.high, l+w*a.low, high+w*e.high, low+w*e.low
			hh, hl, ll = hh+w*(a.row.High+a.high*a.high), hl+w*(a.row.Both+a.high*a.low), ll+w*(a.row.Low+a.low*a.low)
		}
		h, l = h/sum, l/sum
		hh, hl, ll = hh/sum-h*h, hl/sum-h*l, ll/sum-l*l
		var s steadyFit
		s.walking(c, side, lo, hides, hi)
		within := func(what string, got, want, by float64) {
			if !(math.Abs(got-want) <= by) {
				t.Errorf("seed %d: %s %.4g, of the grid %.4g", seed, what, got, want)
			}
		}
		within("evidence", s.walk.log, math.Log(sum/n), 0.1)
		within("evidence beyond", s.beyond.log, math.Log(far/n), 0.3)
		within("high time", s.walk.high, h, 0.05*math.Sqrt(hh))
		within("low time", s.walk.low, l, 0.05*math.Sqrt(ll))
		within("its variance", s.walk.row.High, hh, 0.1*hh)
		within("covariance", s.walk.row.Both, hl, 0.1*math.Abs(hl))
		within("variance of the low time", s.walk.row.Low, ll, 0.1*ll)
		within("steps of the high time", s.steps.high, high/sum, 0.4*high/sum)
		within("steps of the low time", s.steps.low, low/sum, 0.4*low/sum)
		within("steps beyond", s.beyond.high+s.beyond.low, further/far, 0.1*further/far)
	}
}

// The evidence of a walk in cells is its average over the walks from what matters beside the lines through the cells up to what hides in
// them, or from there to the most; each is as likely in each octave. The sizes as documented, in cells² a step.
func TestWalksHaveTheirOctaves(t *testing.T) {
	const cycles = 10
	c, side := inWholeCells(rand.New(rand.NewPCG(3, 19)), cycles, 20.3, 31.9, 0.01, 0.02)
	fl := &floors{width: [2]float64{1, 1}, places: true}
	r := c.steady(fl)
	f := r.fit
	n := c.cycles
	least, hides, limit := n*period(f.Row)/100, 0.09/n, 0.09
	average := func(from, to float64) float64 {
		const sizes, splits, whites = 20, 5, 4
		sum := 0.0
		for i := range sizes * splits * whites {
			q := from * math.Pow(to/from, (float64(i%sizes)+0.5)/sizes)
			ratio := 20.3 / 31.9 * math.Exp(splitSpread*distuv.UnitNormal.Quantile((float64(i/sizes%splits)+0.5)/splits))
			sigma := cell.White((float64(i/sizes/splits) + 0.5) / whites)
			sum += math.Exp(c.propagate(side, excess{sigma * sigma, q * ratio / (1 + ratio), q / (1 + ratio)}, math.Inf(-1), new(filter)).log)
		}
		return sum / (sizes * splits * whites)
	}
	_, most := c.prior(fl)
	for what, c := range map[string]struct{ got, want, by float64 }{
		"up to what hides": {r.walk.log - r.still.log, math.Log(average(least, hides)) - f.Log, 0.1},
		"beyond":           {r.beyond.log - r.walk.log, c.walkLog() - c.stillLog() + math.Log(average(hides, limit)/average(least, hides)*math.Log(limit/hides)/(most-math.Log(least))), 0.15},
	} {
		if !(math.Abs(c.got-c.want) <= c.by) {
			t.Errorf("%s: %.3f, by the grid %.3f", what, c.got, c.want)
		}
	}
}
