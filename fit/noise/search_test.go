package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// singly is a chain of single cycles in one run with white noise and a walk.
func singly(rnd *rand.Rand, cycles int, white, step float64) *chain {
	var c []train.Cycle
	x := 0.0
	for k := range cycles {
		one := train.Cycle{Rise: x + white*rnd.NormFloat64(), Index: float64(k), N: 1, Start: k == 0}
		x += 40 + step*rnd.NormFloat64()
		one.Fall = x + white*rnd.NormFloat64()
		x += 60 + step*rnd.NormFloat64()
		c = append(c, one)
	}
	return newChain(c, 1)
}

// The posterior of the noise against sums over a plain grid: without a walk over the white noise alone; with one over both noises and the
// split of the walk, the two hypotheses of which is larger together.
func TestSearchAgainstGrid(t *testing.T) {
	for seed := range uint64(3) {
		c := singly(rand.New(rand.NewPCG(seed, 51)), 20, 0.1, []float64{0, 0.1, 0.4}[seed])
		fl := &floors{known: [2]float64{1e-4, 2e-4}}
		lo, hi := c.prior(fl)
		run := func(e excess) float64 {
			f := filter{}
			nz := fl.noise(e)
			c.run(&nz, &f)
			return f.logLikelihood
		}
		base := -float64(len(c.y)-3) / 2 * math.Log(2*math.Pi)
		const fine = 600
		var logs, whites []float64
		top := hi + math.Log(c.cycles)
		for i := range fine {
			w := math.Exp(lo + (top-lo)*(float64(i)+0.5)/fine)
			logs, whites = append(logs, run(excess{white: w})), append(whites, w)
		}
		all, mean := floats.LogSumExp(logs), 0.0
		for i, l := range logs {
			mean += math.Exp(l-all) * whites[i]
		}
		got := c.searchStill(fl, nil)
		if want := all - math.Log(fine) + base + c.stillLog(); !(math.Abs(got.log-want) <= 0.3) || !(math.Abs(math.Log(got.white/mean)) <= 0.15) {
			t.Errorf("seed %d: without a walk evidence %.3f, white noise %.5f; on a grid %.3f, %.5f", seed, got.log, got.white, want, mean)
		}
		const steps, splits = 36, 13
		logs = logs[:0]
		var walks, first []float64
		for i := range steps {
			lw := lo + (hi-lo)*(float64(i)+0.5)/steps
			least := c.leastWalk(fl, math.Exp(lw))
			for j := range steps {
				lq := least + (hi-least)*(float64(j)+0.5)/steps
				for k := range splits {
					z := -4 + 8*(float64(k)+0.5)/splits
					share := 1 / (1 + math.Exp(-(math.Log(c.h0/c.l0) + 2*z)))
					q := math.Exp(lq)
					logs = append(logs, run(excess{math.Exp(lw), q * share, q * (1 - share)})-z*z/2)
					walks, first = append(walks, q), append(first, math.Exp(lw))
				}
			}
		}
		norm := 0.0
		for k := range splits {
			z := -4 + 8*(float64(k)+0.5)/splits
			norm += math.Exp(-z * z / 2)
		}
		all = floats.LogSumExp(logs)
		var walk, white float64
		for i, l := range logs {
			walk, white = walk+math.Exp(l-all)*walks[i], white+math.Exp(l-all)*first[i]
		}
		less, more := c.searchWalk(nil, fl, nil)
		sum := floats.LogSumExp([]float64{less.log, more.log})
		a, b := math.Exp(less.log-sum), math.Exp(more.log-sum)
		gotWalk, gotWhite := a*(less.high+less.low)+b*(more.high+more.low), a*less.white+b*more.white
		if want := all - math.Log(steps*steps*norm) + base + c.walkLog(); !(math.Abs(sum-want) <= 0.5) || !(math.Abs(math.Log(gotWalk/walk)) <= 0.4) || !(math.Abs(math.Log(gotWhite/white)) <= 0.5) {
			t.Errorf("seed %d: with a walk evidence %.3f, walk %.5f, white noise %.5f; on a grid %.3f, %.5f, %.5f", seed, sum, gotWalk, gotWhite, want, walk, white)
		}
	}
}

// The Halton sequence in bases 2, 3 and 5 turns the digits of a number round: Halton, Numerische Mathematik 2, 1960.
func TestHalton(t *testing.T) {
	for i, want := range [][3]float64{{1.0 / 2, 1.0 / 3, 1.0 / 5}, {1.0 / 4, 2.0 / 3, 2.0 / 5}, {3.0 / 4, 1.0 / 9, 3.0 / 5}, {1.0 / 8, 4.0 / 9, 4.0 / 5}, {5.0 / 8, 7.0 / 9, 1.0 / 25}} {
		got := halton(i + 1)
		for k := range want {
			if !(math.Abs(got[k]-want[k]) <= 1e-12) {
				t.Errorf("point %d: %v, want %v", i+1, got, want)
			}
		}
	}
}

// A box closes in on what matters: it holds every such point, lies in the one before, and its share falls with its volume.
func TestShrink(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 51))
	for range 20 {
		b := box{weak, [3]float64{-4, 0, -3}, [3]float64{5, 8, 3}, -4, 5, 1.5}
		centre, width := [3]float64{3 * rnd.NormFloat64() / 2, 4, 0}, 0.2+rnd.Float64()
		var u [][3]float64
		var ll []float64
		for i := range 64 {
			h := halton(i + 1)
			var x [3]float64
			l := 0.0
			for k := range x {
				x[k] = b.lo[k] + h[k]*(b.hi[k]-b.lo[k])
				l -= (x[k] - centre[k]) * (x[k] - centre[k]) / (2 * width * width)
			}
			u, ll = append(u, x), append(ll, l)
		}
		s := b.shrink(u, ll, keepShare)
		volume := 0.0
		for k := range s.lo {
			if s.lo[k] < b.lo[k] || s.hi[k] > b.hi[k] || s.lo[k] >= s.hi[k] {
				t.Fatalf("%v to %v in %v to %v", s.lo, s.hi, b.lo, b.hi)
			}
			volume += math.Log((s.hi[k] - s.lo[k]) / (b.hi[k] - b.lo[k]))
		}
		if !(math.Abs(s.share-b.share-volume) <= 1e-9) {
			t.Errorf("the share falls by %.4f, the volume by %.4f", s.share-b.share, volume)
		}
		best := floats.Max(ll)
		mattering, inside := 0, 0
		for i, x := range u {
			in := true
			for k := range x {
				in = in && x[k] >= s.lo[k] && x[k] <= s.hi[k]
			}
			if ll[i] > best+math.Log(keepShare) {
				mattering++
				if !in {
					t.Errorf("a point of %.2f below the best lies outside", best-ll[i])
				}
			}
			if in {
				inside++
			}
		}
		if width < 0.5 && inside > 40 {
			t.Errorf("%d of 64 points are left of %d that matter", inside, mattering)
		}
	}
	flat := box{still, [3]float64{0, 0, 1}, [3]float64{2, 0, 1}, 0, 2, 0}
	if s := flat.shrink([][3]float64{{1, 0, 1}}, []float64{math.Inf(-1)}, keepShare); s.lo != flat.lo || s.hi != flat.hi || s.share != 0 {
		t.Errorf("of points without a likelihood %+v", s)
	}
}

// Points of a box are noises: of the larger, of how much less the other is, and of the walk's split.
func TestBoxIsNoise(t *testing.T) {
	u := [3]float64{math.Log(4), math.Log(8), math.Log(3)}
	for kind, want := range map[kindOf]excess{still: {4, 0, 0}, weak: {4, 0.375, 0.125}, strong: {0.5, 3, 1}} {
		b := box{kind: kind, most: 3, least: 0}
		got := b.excess(u)
		if !(math.Abs(got.white-want.white) <= 1e-12) || !(math.Abs(got.high-want.high) <= 1e-12) || !(math.Abs(got.low-want.low) <= 1e-12) {
			t.Errorf("kind %d: %+v, want %+v", kind, got, want)
		}
		in := map[kindOf]bool{still: true, weak: b.holds(u, 4), strong: b.holds(u, 4)}[kind]
		if in != (kind != strong) { // white noise of a half is below the least
			t.Errorf("kind %d: in the prior %v", kind, in)
		}
	}
	if (&box{kind: weak, most: 3}).holds(u, 3) || !(&box{kind: strong, most: 3, least: -1}).holds(u, 2) || (&box{kind: strong, most: 3, least: -1}).holds(u, 1) {
		t.Error("the walk's room is not kept")
	}
}

// The means and the covariance of a mixture of answers are those of draws from it: of each way by its odds, and of the steady train.
func TestMixtureOfAnswers(t *testing.T) {
	ways := []way{
		{found: found{excess{0.3, 0, 0}, 1}, h: 0.1, l: -0.2, rows: []budget.Row{{Name: "white"}, {Name: walkName}, {Name: LatticeName}, {Name: humName, High: 0.001, Low: 0.003}}},
		{found: found{excess{0.1, 0.02, 0.05}, 0.4}, walks: true, h: -0.3, l: 0.25, rows: []budget.Row{{Name: "white"}, {Name: walkName}, {Name: LatticeName}, {Name: humName, High: 0.001, Low: 0.003}}},
	}
	for i := range ways {
		f := float64(i + 1)
		ways[i].rows[0].High, ways[i].rows[0].Low, ways[i].rows[0].Both = 0.01*f, 0.02*f, -0.005*f
		ways[i].rows[2].High, ways[i].rows[2].Low, ways[i].rows[2].Both = 0.03*f, 0.01*f, -0.01*f
	}
	s := &steadyFit{still: inCells{0.5, 0.2, -0.1, budget.Row{High: 0.02, Low: 0.05, Both: -0.01}},
		walk: inCells{-0.3, 0.25, -0.2, budget.Row{High: 0.024, Low: 0.054, Both: -0.009}}, steps: excess{high: 0.02, low: 0.03}, cycles: 25}
	odds := newOdds(ways, s, true, true)
	logs := []float64{1, 0.4, 0.5, -0.3}
	sum := floats.LogSumExp(logs)
	for i, got := range []float64{odds.ways[0], odds.ways[1], odds.steadyStill, odds.steadyWalk} {
		if !(math.Abs(got-math.Exp(logs[i]-sum)) <= 1e-12) {
			t.Errorf("odds %d: %g", i, got)
		}
	}
	p := []float64{odds.ways[0], odds.ways[1], odds.steadyStill, odds.steadyWalk}
	high := []float64{0.1, -0.3, 0.2, 0.25}
	low := []float64{-0.2, 0.25, -0.1, -0.2}
	vh := []float64{0.04, 0.08, 0.02, 0.024}
	vl := []float64{0.03, 0.06, 0.05, 0.054}
	cov := []float64{-0.015, -0.03, -0.01, -0.009}
	var mh, ml, hh, hl, ll float64
	for i := range p { // what hum's fit leaves open is open in all
		vh[i], vl[i] = vh[i]+0.001, vl[i]+0.003
		mh, ml = mh+p[i]*high[i], ml+p[i]*low[i]
	}
	for i := range p {
		dh, dl := high[i]-mh, low[i]-ml
		hh, hl, ll = hh+p[i]*(vh[i]+dh*dh), hl+p[i]*(cov[i]+dh*dl), ll+p[i]*(vl[i]+dl*dl)
	}
	bare := mix(ways, &odds)
	a := bare.blend(s, &odds)
	// Under a walk in cells the mean of 25 times has a 25th of its steps' variance, which the walk's row holds and the cells' one does not.
	left, walked := p[0]+p[1], [2]budget.Row{bare.rows[1], a.rows[1]}
	if !(math.Abs(walked[1].High-left*walked[0].High-p[3]*0.02/25) <= 1e-12) || !(math.Abs(walked[1].Low-left*walked[0].Low-p[3]*0.03/25) <= 1e-12) {
		t.Errorf("rows of the walk %+v", walked)
	}
	gh, gb, gl := budget.Sum(a.rows)
	for _, x := range [][2]float64{{a.high, mh}, {a.low, ml}, {gh, hh}, {gb, hl}, {gl, ll}, {a.white, 0.3*p[0] + 0.1*p[1]}, {a.step, 0.07*p[1] + 0.05*p[3]}} {
		if !(math.Abs(x[0]-x[1]) <= 1e-9) {
			t.Errorf("%.6f, of the mixture %.6f", x[0], x[1])
		}
	}
	if only := newOdds(ways, s, false, true); only.ways[0] != 0 || only.steadyStill != 0 || !(math.Abs(only.ways[1]/only.steadyWalk-math.Exp(0.7)) <= 1e-9) {
		t.Errorf("with a walk alone: %+v", only)
	}
	if only := newOdds(ways, nil, true, false); only.ways[0] != 1 || only.steady() != 0 {
		t.Errorf("without a walk or a steady train: %+v", only)
	}
}

// Prior odds of no walk: the root of the cycles, or a thirtieth of them, one at least. The probabilities of both add to one.
func TestPriorOddsOfAWalk(t *testing.T) {
	for cycles, want := range map[float64]float64{9: 1, 60: 2, 600: 20, 900: 30, 1e6: 1000} {
		c := &chain{cycles: cycles}
		if p, q := math.Exp(c.stillLog()), math.Exp(c.walkLog()); !(math.Abs(p+q-1) <= 1e-12) || !(math.Abs(p/q/want-1) <= 1e-9) {
			t.Errorf("%g cycles: %g and %g", cycles, p, q)
		}
	}
}

// The likelihood of bends under a covariance is that of the library's factors.
func TestLikelihoodOfBends(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 51))
	const n = 12
	var b bends
	a := mat.NewDense(n, n, nil)
	for i := range n {
		b.size = append(b.size, rnd.NormFloat64())
		for j := range n {
			a.Set(i, j, rnd.NormFloat64()*1e-30)
		}
	}
	var s mat.SymDense
	s.SymOuterK(1, a)
	var root mat.Cholesky
	root.Factorize(&s)
	var x mat.VecDense
	if err := root.SolveVecTo(&x, mat.NewVecDense(n, b.size)); err != nil {
		t.Log(err)
	}
	want := -0.5 * (root.LogDet() + mat.Dot(&x, mat.NewVecDense(n, b.size)))
	if got := b.log(&s); !(math.Abs(got/want-1) <= 1e-6) {
		t.Errorf("%.6g, by the library %.6g", got, want)
	}
	// Under a way's noise: white noise of the edges and their rounding, steps, and rounding that may follow any one wave.
	whole := singly(rnd, 60, 0.1, 0.1).bends()
	fl := floors{known: [2]float64{0.01, 0.03}, lattice: [2]float64{0.05, 0.07}}
	got := whole.covariance(&way{fl: fl, found: found{excess: excess{0.004, 0.002, 0.003}}, local: 0.006})
	for i := range whole.size {
		for j := range whole.size {
			want := 0.084*whole.white.At(i, j) + 0.005*whole.walk.At(i, j)
			if i == j {
				want += 0.06 * math.Exp(-4*math.Pi*math.Pi*0.03) * whole.points
			}
			if !(math.Abs(got.At(i, j)-want) <= 1e-9) {
				t.Fatalf("covariance of bends %d and %d is %.6g, want %.6g", i, j, got.At(i, j), want)
			}
		}
	}
	s.SetSym(3, 3, -1)
	if got := b.log(&s); !math.IsInf(got, -1) {
		t.Errorf("of no covariance %g", got)
	}
}

// Counts run from the middle of each run; the scatter is half the mean square of what neighbouring intervals of a kind differ by.
func TestCountsAndScatter(t *testing.T) {
	c := someChain(rand.New(rand.NewPCG(4, 51)), false)
	high, low := c.counts()
	from := 0
	for i := range len(c.y) + 1 {
		if i < len(c.y) && (!c.start[i] || i == 0) {
			if i > 0 && (!(math.Abs(high[i]-high[i-1]-c.dh[i]) <= 1e-12) || !(math.Abs(low[i]-low[i-1]-c.dl[i]) <= 1e-12)) {
				t.Fatalf("edge %d is not %g high and %g low times on", i, c.dh[i], c.dl[i])
			}
			continue
		}
		if !(math.Abs(high[from]+high[i-1]) <= 1e-12) || !(math.Abs(low[from]+low[i-1]) <= 1e-12) {
			t.Errorf("run from %d to %d is not about its middle", from, i)
		}
		from = i
	}
	d := singly(rand.New(rand.NewPCG(5, 51)), 4000, 0.2, 0)
	if s := d.scatter(); !(math.Abs(s/(2*0.04)-1) <= 0.1) { // intervals have twice the variance of an edge
		t.Errorf("scatter %.4f of white noise of 0.04", s)
	}
}

// Means over n cycles scatter by an nth of the variance: what is told of one edge is the same.
func TestScatterOfMeans(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 51))
	for _, n := range []float64{1, 4, 16} {
		c := &chain{h0: 40, l0: 60}
		for i := range 6000 {
			c.add(100*n*float64(i/2)+40*float64(i%2)+0.2/math.Sqrt(n)*rnd.NormFloat64(), i%2 == 0, i == 0, []float64{n - 1, 1}[i%2], []float64{n, 0}[i%2], n, float64(i/2))
		}
		if s := c.scatter(); !(math.Abs(s/(2*0.04)-1) <= 0.1) {
			t.Errorf("means of %g: %.4f of white noise of 0.04", n, s)
		}
	}
}

// The mean length of single pulses is as far off as is stated, whether their ends fall anywhere between two samples or always in the same
// place, and whether the ends were rounded or the lengths.
func TestSinglePulsesInWholeDigits(t *testing.T) {
	const n, draws = 40, 20
	for _, c := range []struct {
		kind     acquire.Rounding
		anywhere bool
		jitter   float64
	}{{acquire.OfInstants, true, 0.1}, {acquire.OfInstants, false, 0.3}, {acquire.OfTimes, true, 0.1}} {
		square := 0.0
		for seed := range uint64(draws) {
			rnd := rand.New(rand.NewPCG(seed, 53))
			high, at := 100+rnd.Float64(), rnd.Float64()
			var cycles []train.Cycle
			for i := range n {
				if at += 300; c.anywhere {
					at += rnd.Float64()
				}
				k := train.Cycle{Rise: math.Round(at), N: 1, Index: float64(i), Start: i == 0}
				length := high + c.jitter*rnd.NormFloat64()
				if k.Fall = math.Round(at + length); c.kind == acquire.OfTimes {
					k.Fall = k.Rise + math.Round(length)
				}
				cycles = append(cycles, k)
			}
			r, err := EstimateSingle(&train.Record{Cycles: cycles, Sample: cycles, Highs: n, Whole: n - 1}, Known{Rounding: c.kind, Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}})
			if err != nil {
				t.Fatal(err)
			}
			v, _, _ := budget.Sum(r.Rows)
			square += (r.High - high) * (r.High - high) / v / draws
		}
		if z := math.Sqrt(square); !(z < 1.5) { // of 20: 1 ± 0.16 at most
			t.Errorf("rounding %v, anywhere %v, jitter %v: off by %.2f of what is stated", c.kind, c.anywhere, c.jitter, z)
		}
	}
}

// Single pulses against the library: their mean, and its scatter as far as nothing known explains it, under a log-uniform prior summed here.
func TestSinglePulses(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 51))
	var c []train.Cycle
	var d, gaps []float64
	x := 5.0
	for k := range 9 {
		h, l := 20+0.3*rnd.NormFloat64(), 50+40*rnd.Float64()
		c = append(c, train.Cycle{Rise: x, Fall: x + h, N: 1, Index: float64(k), Start: k == 0})
		d, gaps = append(d, h), append(gaps, l)
		x += h + l
	}
	r, err := EstimateSingle(&train.Record{Cycles: c, Sample: c, Highs: 9, Whole: 8}, Known{White: [2]float64{0.004, 0.006}, Lattice: cell.Lattice{Cell: 0.5, Sharpness: [2]float64{1, 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(r.High-stat.Mean(d, nil)) <= 1e-9) || !(math.Abs(r.Low-stat.Mean(gaps[:8], nil)) <= 1e-9) {
		t.Errorf("high %.6f, low %.6f; want %.6f, %.6f", r.High, r.Low, stat.Mean(d, nil), stat.Mean(gaps[:8], nil))
	}
	known := 0.01 + 0.25/6
	square := 8 * stat.Variance(d, nil)
	var all, mean float64
	scale := square/8 + known/10
	for i := range 4000 {
		v := scale * 1e-6 * math.Pow(25e6, (float64(i)+0.5)/4000)
		w := math.Pow(known+v, -4) * math.Exp(-square/(known+v)/2)
		all, mean = all+w, mean+w*v
	}
	own := mean / all
	rows := map[string]budget.Row{}
	for _, row := range r.Rows {
		rows[row.Name] = row
	}
	for name, want := range map[string][3]float64{
		"edge noise known from the levels": {0.01 / 9, -0.005 * 16 / 9 / 8, 0.01 / 8},
		"pulse to pulse":                   {own / 9, 0, stat.Variance(gaps[:8], nil) / 8},
		"sample interval":                  {0.25 / 6 / 9, -0.25 / 12 / 9, 0.25 / 6},
	} {
		got := rows[name]
		for i, x := range []float64{got.High, got.Both, got.Low} {
			if !(math.Abs(x-want[i]) <= 0.01*math.Abs(want[i])+1e-12) {
				t.Errorf("%s: %.6g, want %.6g", name, x, want[i])
			}
		}
	}
	if !(math.Abs(r.White/math.Sqrt(own)-1) <= 0.01) {
		t.Errorf("pulses scatter by %.4f, want %.4f", r.White, math.Sqrt(own))
	}
	same := []train.Cycle{{Rise: 1, Fall: 4, N: 1, Start: true}, {Rise: 11, Fall: 14, N: 1, Index: 1}}
	r, err = EstimateSingle(&train.Record{Cycles: same, Sample: same, Highs: 2, Whole: 1}, Known{Lattice: cell.Lattice{Cell: 0.5, Sharpness: [2]float64{1, 1}}})
	if err != nil || !(math.Abs(r.High-3) <= 0.005) || r.Low != 7 || !(math.Abs(r.Rows[2].High-0.25/6) <= 2e-3) {
		t.Errorf("two alike: %+v, %v", r, err)
	}
	if _, err := EstimateSingle(&train.Record{}, Known{}); err == nil {
		t.Error("no pulse is no error")
	}
	if _, err := Estimate(&train.Record{Cycles: same, Whole: 1, Highs: 2, Lows: 1}, Known{}); err == nil {
		t.Error("one cycle is no error")
	}
}
