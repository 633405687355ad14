package cell

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// cellsOf is a steady train without noise: the cells that its edges fall in.
func cellsOf(high, period, phase float64, cycles int) *Edges {
	var e Edges
	for k := range cycles {
		rise := phase + float64(k)*period
		for s, x := range [2]float64{rise + high, rise} {
			e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(x))
		}
	}
	return &e
}

// The mean and the covariance of high and low time against a count over a fine grid: every offset and period that puts all
// edges in their cells is as likely. The least white noise, 0.001 cells, softens no side by more than a hundredth of these polygons.
func TestSolveAgainstEveryLine(t *testing.T) {
	for _, c := range []struct {
		high, period, phase float64
		cycles              int
	}{{7.3, 20.37, 0.2, 9}, {5.6, 17.04, 0.71, 12}, {11.9, 31.52, 0.05, 7}} {
		e := cellsOf(c.high, c.period, c.phase, c.cycles)
		q := &cells{Edges: *e, cycles: float64(c.cycles - 1)}
		start, room := q.widest(c.period+0.01, 0.3)
		_, fitHigh, fitPeriod, row := q.solve(Whites[0].Sigma, start, room)
		// Given the period, the offsets of rise and fall are uniform between their bounds: the only sum is over the period.
		var w, p, h, pp, hh, hp float64
		for x := c.period - 0.4; x < c.period+0.4; x += 1e-5 {
			lo, hi := [2]float64{math.Inf(-1), math.Inf(-1)}, [2]float64{math.Inf(1), math.Inf(1)}
			for s := range lo {
				for i, k := range e.Index[s] {
					lo[s], hi[s] = max(lo[s], e.Side[s][i]-k*x), min(hi[s], e.Side[s][i]+1-k*x)
				}
			}
			if hi[0] <= lo[0] || hi[1] <= lo[1] {
				continue
			}
			a := (hi[0] - lo[0]) * (hi[1] - lo[1])
			high := (lo[0] + hi[0] - lo[1] - hi[1]) / 2
			spread := ((hi[0]-lo[0])*(hi[0]-lo[0]) + (hi[1]-lo[1])*(hi[1]-lo[1])) / 12
			w, p, h = w+a, p+a*x, h+a*high
			pp, hh, hp = pp+a*x*x, hh+a*(high*high+spread), hp+a*high*x
		}
		p, h = p/w, h/w
		vp, vh, both := pp/w-p*p, hh/w-h*h, hp/w-h*p
		up, uh := math.Sqrt(vp), math.Sqrt(vh)
		if !(math.Abs(fitPeriod-p) <= 0.05*up) || !(math.Abs(fitHigh-h) <= 0.05*uh) {
			t.Errorf("%+v: period %.6f, high %.5f, over all lines %.6f, %.5f", c, fitPeriod, fitHigh, p, h)
		}
		near := func(what string, got, want, scale float64) {
			if !(math.Abs(got-want) <= 0.05*scale) {
				t.Errorf("%+v: %s %.4g, over all lines %.4g", c, what, got, want)
			}
		}
		near("variance of the high time", row.High, vh, vh)
		near("variance of the period", row.High+2*row.Both+row.Low, vp, vp)
		near("covariance", row.Both, both-vh, uh*up+vh)
	}
}

// A line that fits no cells is said to be none.
func TestSolveRefuses(t *testing.T) {
	e := cellsOf(7.3, 20.37, 0.2, 9)
	e.Side[1][4] += 3
	if f := Solve(e, 20.4, 8); f != nil {
		t.Errorf("edges three cells off a line gave %+v", f)
	}
}

// Edges that all keep their cells under a period of whole cells may be locked to the sampling clock: then each of the two
// lies anywhere in its cell, whatever the others say, and the high time has the variance 1/6. That counts as likely as not:
// 0.132 between 1/6 and the 0.097 that lines leave.
func TestLockedTrain(t *testing.T) {
	const cycles = 50
	f := Solve(cellsOf(7.3, 20, 0.2, cycles), 20, cycles-1)
	if f == nil {
		t.Fatal("no line fits")
	}
	if v := f.Row.High + 2*f.Row.Both + f.Row.Low; v < 0 || v > 1e-3 || !(math.Abs(f.Row.Low/f.Row.High-1) <= 0.02) {
		t.Errorf("variance of the period %.4g, of the low time %.4f", v, f.Row.Low)
	}
	free := Solve(cellsOf(7.3, 20.04, 0.2, cycles), 20.04, cycles-1)
	if v := f.Row.High; v < 0.12 || v > 1.0/6 || free.Row.High > v/2 {
		t.Errorf("variance of the high time %.3f, of a train that creeps %.3f", v, free.Row.High)
	}
}

// Trains bent by up to two cells, in which the straight line has next to no evidence, keep finite numbers; a creeping train's slips leave
// its high time to a drift, so that it is known much less well; one that goes through its cells fast shows any drift, and keeps its own.
func TestHideADrift(t *testing.T) {
	train := func(period, bend float64, cycles int) *Fit {
		e := cellsOf(7.3, period, 0.2, cycles)
		for s := range e.Side {
			for i, k := range e.Index[s] {
				x := k / float64(cycles)
				e.Side[s][i] = math.Floor([2]float64{0.85, 0.7}[s] + k*period + 4*bend*x*(1-x) + [2]float64{7, 0}[s])
			}
		}
		return Solve(e, period, float64(cycles-1))
	}
	for _, bend := range []float64{0.3, 0.9, 0.92, 0.94, 0.96, 1.3} {
		f := train(20.003, bend, 1000)
		if f == nil {
			continue
		}
		f.Hide([]float64{0.05})
		if u := f.Row.High + f.Row.Low + f.Row.Both; math.IsNaN(u) || math.IsInf(u, 0) {
			t.Fatalf("bent by %.2f: %+v", bend, f.Row)
		}
	}
	for _, c := range []struct{ period, least, most float64 }{{20.012, 2, 100}, {20.3831, 1, 1.3}} {
		f := train(c.period, 0, 100)
		before := f.Row.High
		f.Hide(nil)
		if k := f.Row.High / before; !(k >= c.least && k <= c.most) {
			t.Errorf("period %g: the variance of the high time grows by %.2f, want %g to %g", c.period, k, c.least, c.most)
		}
	}
}

// soft is the posterior of two lines through cells with normal noise of sigma cells, under a flat prior, summed over a plain grid: log of
// the integral over both offsets and the period, mean high time and period, and second moments about those.
func soft(e *Edges, period, sigma float64) (log, high, mean, hh, hp, pp float64) {
	const periods, offsets = 61, 100
	n := e.Index[1][len(e.Index[1])-1]
	reach := (1 + 8*sigma) / n
	var w, h, p, sh, sp, both float64
	step := 2 * reach / (periods - 1)
	for i := range periods {
		x := period - reach + float64(i)*step
		var sum, first, second [2]float64
		for s := range sum {
			lo, hi := math.Inf(1), math.Inf(-1)
			for k, j := range e.Index[s] {
				lo, hi = min(lo, e.Side[s][k]-j*x), max(hi, e.Side[s][k]-j*x+1)
			}
			d := (hi - lo) / offsets
			for o := range offsets {
				a, weight := lo+(float64(o)+0.5)*d, d
				for k, j := range e.Index[s] {
					at := (a + j*x - e.Side[s][k]) / sigma
					weight *= 0.25 * math.Erfc(-at/math.Sqrt2) * math.Erfc((at-1/sigma)/math.Sqrt2)
				}
				sum[s], first[s], second[s] = sum[s]+weight, first[s]+weight*a, second[s]+weight*a*a
			}
		}
		if sum[0] == 0 || sum[1] == 0 {
			continue
		}
		q := sum[0] * sum[1] * step
		m := first[0]/sum[0] - first[1]/sum[1]
		v := second[0]/sum[0] - first[0]*first[0]/sum[0]/sum[0] + second[1]/sum[1] - first[1]*first[1]/sum[1]/sum[1]
		w, h, p = w+q, h+q*m, p+q*x
		sh, sp, both = sh+q*(m*m+v), sp+q*x*x, both+q*m*x
	}
	h, p = h/w, p/w
	return math.Log(w), h, p, sh/w - h*h, both/w - h*p, sp/w - p*p
}

// With noise the sides of the cells are soft: the evidence, the mean and the covariance at each white noise, and their average, against
// sums over a plain grid of offsets and periods.
func TestSolveAgainstSoftSides(t *testing.T) {
	for seed := range uint64(3) {
		rnd := rand.New(rand.NewPCG(seed, 3))
		cycles := 6 + 2*int(seed)
		high, period, phase, jitter := 7+5*rnd.Float64(), 20+9*rnd.Float64(), rnd.Float64(), 0.12*float64(seed%3)/2
		var e Edges
		for k := range cycles {
			for s, x := range [2]float64{phase + high, phase} {
				e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(x+float64(k)*period+jitter*rnd.NormFloat64()))
			}
		}
		f := Solve(&e, period, float64(cycles-1))
		var all, wh, wp, whh, whp, wpp float64
		best, likeliest := 0.0, 0.0
		for _, white := range Whites {
			log, high, mean, hh, hp, pp := soft(&e, f.start, white.Sigma)
			got := f.at(white.Sigma)
			if !(math.Abs(got.log-log) < 0.05) || !(math.Abs(got.high-high) < 0.05*math.Sqrt(hh)) || !(math.Abs(got.period-mean) < 0.05*math.Sqrt(pp)) {
				t.Errorf("seed %d, noise %g: log %.3f, high %.5f, period %.6f; plain sums %.3f, %.5f, %.6f", seed, white.Sigma, got.log, got.high, got.period, log, high, mean)
			}
			both := got.row.High + got.row.Both
			if !(math.Abs(got.row.High/hh-1) <= 0.05) || !(math.Abs((got.row.High+2*got.row.Both+got.row.Low)/pp-1) <= 0.06) || !(math.Abs(both-hp) <= 0.05*math.Sqrt(hh*pp)) {
				t.Errorf("seed %d, noise %g: variances %.4g and %.4g, covariance %.4g; plain sums %.4g, %.4g, %.4g", seed, white.Sigma,
					got.row.High, got.row.High+2*got.row.Both+got.row.Low, both, hh, pp, hp)
			}
			w := white.Weight * math.Exp(log)
			all, wh, wp = all+w, wh+w*high, wp+w*mean
			whh, whp, wpp = whh+w*(hh+high*high), whp+w*(hp+high*mean), wpp+w*(pp+mean*mean)
			if w > best {
				best, likeliest = w, white.Sigma
			}
		}
		high, mean := wh/all, wp/all
		vh, both, vp := whh/all-high*high, whp/all-high*mean, wpp/all-mean*mean
		if !(math.Abs(f.Log-math.Log(all)) <= 0.05) || !(math.Abs(f.High-high) <= 0.05*math.Sqrt(vh)) || !(math.Abs(f.Period-mean) <= 0.05*math.Sqrt(vp)) ||
			!(math.Abs(f.Row.High/vh-1) <= 0.05) || !(math.Abs((f.Row.High+2*f.Row.Both+f.Row.Low)/vp-1) <= 0.06) || !(math.Abs(f.Row.High+f.Row.Both-both) <= 0.05*math.Sqrt(vh*vp)) {
			t.Errorf("seed %d: %+v; plain sums log %.3f, high %.5f, period %.6f, variances %.4g and %.4g, covariance %.4g", seed, f, math.Log(all), high, mean, vh, vp, both)
		}
		if f.White != likeliest {
			t.Errorf("seed %d: noise of %g cells is the likeliest, by plain sums %g", seed, f.White, likeliest)
		}
	}
}

// Edges that many cycles of noise leave no line through: the posterior is narrower than the points of a first look are apart, and lies far
// from the period that leaves most room. Where the look ends beside it the error of the period is 13 of its uncertainty here, and that of the
// high time 230 in one such train of fifty.
func TestManyNoisyEdges(t *testing.T) {
	const cycles, trains, jitter = 1000, 6, 0.1
	var high, period float64
	for seed := range uint64(trains) {
		rnd := rand.New(rand.NewPCG(seed, 77))
		var e Edges
		x, p, h := rnd.Float64(), 20+3*rnd.Float64()/cycles, 7+rnd.Float64()
		for k := range cycles {
			for s, at := range [2]float64{x + h, x} {
				e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(at+jitter*rnd.NormFloat64()))
			}
			x += p
		}
		f := Solve(&e, p+0.1/cycles, cycles-1)
		if f == nil {
			t.Fatal("no line fits")
		}
		high += (f.High - h) * (f.High - h) / f.Row.High / trains
		period += (f.Period - p) * (f.Period - p) / (f.Row.High + 2*f.Row.Both + f.Row.Low) / trains
		if f.White < 0.05 {
			t.Errorf("seed %d: white noise of %g cells", seed, f.White)
		}
	}
	if h, p := math.Sqrt(high), math.Sqrt(period); h > 2.2 || p > 2.2 {
		t.Errorf("error over uncertainty %.2f for the high time, %.2f for the period", h, p)
	}
}

// Over thousands of cycles an edge of a train that creeps by a part of a cell slips once, and not to and fro: that is told by a white noise
// far below what it moves on in a cycle. With one of a thousandth of a cell at least the period's error is 2.2 of its uncertainty.
func TestOneSlipInThousands(t *testing.T) {
	const trains, cycles = 24, 2500
	var high, period float64
	for seed := range uint64(trains) {
		rnd := rand.New(rand.NewPCG(seed, cycles))
		length, at, h := 50+(2*rnd.Float64()-1)/cycles, rnd.Float64(), 20+10*rnd.Float64()
		var e Edges
		for k := range cycles {
			x := at + float64(k)*length
			for s, v := range []float64{x + h, x} {
				e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(v))
			}
		}
		f := Solve(&e, 50, cycles)
		high += (f.High - h) * (f.High - h) / f.Row.High / trains
		period += (f.Period - length) * (f.Period - length) / (f.Row.High + 2*f.Row.Both + f.Row.Low) / trains
	}
	if high, period = math.Sqrt(high), math.Sqrt(period); !(high <= 1.5 && period <= 1.5) {
		t.Errorf("error over uncertainty has root mean square %.2f and %.2f", high, period)
	}
}

// Where the integral over the period begins does not matter to it: points on the way to its top are none of it.
func TestIntegralFromAnywhere(t *testing.T) {
	const cycles, sigma = 2000, 0.19
	rnd := rand.New(rand.NewPCG(1, 2))
	var e Edges
	for k := range cycles {
		for s, v := range []float64{0.7, 0.2} {
			e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(v-0.9*float64(k)/cycles+sigma*rnd.NormFloat64()))
		}
	}
	at := func(from float64) (mean, u float64) {
		p := &cells{Edges: e, cycles: cycles}
		_, _, mean, row := p.solve(sigma, from, 0)
		return mean, math.Sqrt(row.High + 2*row.Both + row.Low)
	}
	mean, u := at(-0.9 / cycles)
	for _, off := range []float64{-1.3, -0.9, 0.9, 1.3} {
		if m, v := at((-0.9 + off) / cycles); !(math.Abs(m-mean) <= 0.05*u) || !(math.Abs(v/u-1) <= 0.05) {
			t.Errorf("from %g cells off: %.6g ± %.2g, want %.6g ± %.2g", off, m, v, mean, u)
		}
	}
}

// The least white noises are parted until an edge of a long record does not slip by them, or little weight is left; the weights stay one.
func TestLeastWhiteNoises(t *testing.T) {
	for _, cycles := range []float64{10, 250, 350, 2500, 40000, 1e9} {
		all := whites(cycles)
		sum, more := 0.0, len(all)-len(Whites)
		for i, n := range all {
			if sum += n.Weight; i < more && !(math.Abs(n.Sigma/all[i+1].Sigma-0.25) <= 1e-12) {
				t.Errorf("%g cycles: %+v", cycles, all)
			}
		}
		if !(math.Abs(sum-1) <= 1e-12) || !slices.Equal(all[more+1:], Whites[1:]) || all[more].Sigma != Whites[0].Sigma {
			t.Errorf("%g cycles: %+v", cycles, all)
		}
		first, last := all[0], all[0].Sigma*cycles*4 > 0.3 // before the last parting
		if first.Sigma*cycles > 0.3 && first.Weight > 2*all[1].Weight || more > 0 && !last {
			t.Errorf("%g cycles: %+v", cycles, all)
		}
	}
	if few := whites(250); len(few) != len(Whites) { // 0.25 of a cell
		t.Errorf("%+v", few)
	}
}
