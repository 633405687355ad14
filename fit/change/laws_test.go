package change

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"offbeat/fit/train"
)

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by*(math.Abs(want)+1e-3)) {
		t.Errorf("%s: %.10g, want %.10g", what, got, want)
	}
}

// unlikeSeries is of averages of unlike numbers of cycles at uneven places.
func unlikeSeries(rnd *rand.Rand, n int, phase bool) *series {
	var p points
	at := 3.0
	for range n {
		count := float64(1 + rnd.IntN(6))
		p.index, p.count = append(p.index, at+count/2), append(p.count, count)
		p.phase, p.high = append(p.phase, 148*at+rnd.NormFloat64()), append(p.high, 57+rnd.NormFloat64())
		at += count + float64(rnd.IntN(3))
	}
	if phase {
		return p.phases()
	}
	return p.highs()
}

// The filter's innovations are the values times the inverse of the Cholesky factor of their covariance written out: white noise, a random
// walk, its integral, less what averaging takes off. So are the sizes of changes, alone and two together, those of least squares under it.
func TestWhiteningIsCholesky(t *testing.T) {
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 91))
		s := unlikeSeries(rnd, 14+rnd.IntN(10), seed%2 == 0)
		n := weighed{noise{walk: 30 * rnd.Float64()}, -0.7}
		if seed%3 == 1 {
			n.walk = 0
		}
		if s.phase && seed%4 == 0 {
			n.wander = 50 * rnd.Float64()
		}
		k := len(s.x)
		v := mat.NewSymDense(k, nil)
		for i, at := range s.x {
			for j := range i + 1 {
				u := s.x[j]
				c := n.walk*u + 3*n.wander*(u*u*at/2-u*u*u/6)
				if i == j {
					if c += s.white[i]; i > 0 {
						c -= n.walk * s.smooth[i]
					}
				}
				v.SetSym(i, j, c)
			}
		}
		var root mat.Cholesky
		if !root.Factorize(v) {
			t.Fatal("no covariance")
		}
		var lower mat.TriDense
		root.LTo(&lower)
		w := s.filter(n.noise)
		near(t, "determinant", w.logs, root.LogDet(), 1e-9)
		var want mat.VecDense
		if err := want.SolveVec(&lower, mat.NewVecDense(k, s.y)); err != nil {
			t.Fatal(err)
		}
		for i, got := range w.white(s.y) {
			near(t, "innovation", got, want.AtVec(i), 1e-8)
		}
		a, b := s.x[4]*0.3+s.x[5]*0.7, s.x[k-6]*0.6+s.x[k-5]*0.4
		check := func(what string, g guess, places []float64, which int) {
			t.Helper()
			log, sizes, variances := dense(s, n, places)
			near(t, what+", share", g.log, log, 1e-7)
			near(t, what+", size", g.by, sizes[which], 1e-6)
			near(t, what+", variance", g.variance, variances[which], 1e-6)
		}
		check("alone", s.guesses(n, nil, []spot{{a, 1}}, nil, false)[0], []float64{a}, 0)
		check("before another", s.guesses(n, nil, []spot{{a, 1}}, []spot{{b, 1}}, false)[0], []float64{a, b}, 0)
		check("after another", s.guesses(n, nil, []spot{{b, 1}}, []spot{{a, 1}}, true)[0], []float64{a, b}, 1)
		if g := s.guesses(n, nil, []spot{{a, 1}}, []spot{{b, 1}}, true); len(g) != 0 {
			t.Errorf("after one that lies before it: %+v", g)
		}
		// A place that stands for more of the record is likelier by as much.
		one, wide := s.guesses(n, []float64{b}, []spot{{a, 1}}, nil, false)[0], s.guesses(n, []float64{b}, []spot{{a, 5}}, nil, false)[0]
		near(t, "beside one that is fixed", one.by, s.guesses(n, nil, []spot{{a, 1}}, []spot{{b, 1}}, false)[0].by, 1e-6)
		near(t, "five times as wide", wide.log-one.log, math.Log(5), 1e-9)
	}
}

// A mixture's moments, sums of logarithms and what a polynomial leaves are the library's.
func TestSumsOfLogarithms(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 92))
	for range 20 {
		all, logs := sum{top: math.Inf(-1)}, []float64{}
		parts := [2]sum{all, all}
		for i := range 30 {
			x := 100 * (rnd.Float64() - 0.5) * rnd.Float64()
			all.add(x)
			parts[i%2].add(x)
			logs = append(logs, x)
		}
		want := floats.LogSumExp(logs)
		near(t, "sum", all.over(sum{0, 1}), want, 1e-9)
		near(t, "of two", parts[0].and(parts[1]).over(sum{0, 2}), want-math.Ln2, 1e-9)
		none := parts[0].and(sum{top: math.Inf(-1)})
		near(t, "of one and none", none.over(parts[0]), 0, 1e-12)
		var guesses []guess
		var by, weights []float64
		within := 0.0
		for _, x := range logs[:8] {
			g := guess{log: x, by: rnd.NormFloat64(), variance: rnd.Float64()}
			guesses, by, weights = append(guesses, g), append(by, g.by), append(weights, math.Exp(x-floats.LogSumExp(logs[:8])))
			within += weights[len(weights)-1] * g.variance
		}
		mean, variance := mixed(guesses)
		wantMean, between := stat.PopMeanVariance(by, weights)
		near(t, "mean", mean, wantMean, 1e-9)
		near(t, "variance", variance, within+between, 1e-9)
	}
	s := unlikeSeries(rnd, 30, true)
	x := mat.NewDense(30, 2, nil)
	for i, u := range s.x {
		x.SetRow(i, []float64{1, u})
	}
	var fit, line mat.VecDense
	_ = fit.SolveVec(x, mat.NewVecDense(30, s.y))
	line.MulVec(x, &fit)
	rest := slices.Clone(s.y)
	floats.Sub(rest, line.RawVector().Data)
	near(t, "spread", s.spread(), floats.Max(rest)-floats.Min(rest), 1e-6)
	// A jump of the period by By cycle lengths bends the phase by that times what lies behind it.
	moved := s.moved(1, []int{10}, []Size{{By: 0.3}})
	bend := make([]float64, 30)
	for i, u := range s.x {
		bend[i] = 0.3 * max(u-(s.x[9]+s.x[10])/2, 0) * s.unit
	}
	_ = fit.SolveVec(x, mat.NewVecDense(30, bend))
	line.MulVec(x, &fit)
	floats.Sub(bend, line.RawVector().Data)
	near(t, "moved", moved, floats.Max(bend)-floats.Min(bend), 1e-6)
}

// Averages keep what they are of: as many cycles, the same sums, the same ends. Those beside a change that is to be sized are not averaged.
func TestAveragesKeepWhatTheyAreOf(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 93))
	for _, n := range []int{100, 160, 161, 500, 1999} {
		cycles := signal{white: 0.3}.cycles(rnd, n, func(int) (float64, float64) { return 1, 1 })
		p, ok := newPoints(cycles)
		if !ok {
			t.Fatal("no points")
		}
		thin := p.thinned(mostPoints)
		at := []int{n / 3, n/3 + 5, n - 20}
		near3, places := p.focused(at)
		for name, q := range map[string]points{"thinned": thin, "focused": near3} {
			whole := int(floats.Sum(q.count))
			if len(q.index) > mostPoints && name == "thinned" || whole > n || name == "focused" && whole != n || n-whole >= (n+mostPoints-1)/mostPoints {
				t.Errorf("%s: %d points of %d cycles, of %d", name, len(q.index), whole, n)
			}
			for what, v := range map[string][2][]float64{"index": {q.index, p.index}, "phase": {q.phase, p.phase}, "high": {q.high, p.high}} {
				near(t, name+", sum of "+what, floats.Dot(v[0], q.count), floats.Sum(v[1][:whole]), 1e-9)
			}
			if q.from[0] != p.from[0] || q.to[len(q.to)-1] != p.to[n-1] {
				t.Errorf("%s: from %g to %g, want %g to %g", name, q.from[0], q.to[len(q.to)-1], p.from[0], p.to[n-1])
			}
			for i := 1; i < len(q.from); i++ {
				if !(q.from[i] > q.to[i-1]) || !(q.from[i]-q.to[i-1] < 148.4) {
					t.Fatalf("%s: average %d begins at %g, the one before ends at %g", name, i, q.from[i], q.to[i-1])
				}
			}
		}
		if n <= mostPoints && (len(thin.index) < n || len(near3.index) < n) {
			t.Errorf("of %d points, which are few, %d and %d are left", n, len(thin.index), len(near3.index))
		}
		if n > 4*mostPoints && len(near3.index) > n/2 {
			t.Errorf("of %d, %d are left beside three changes", n, len(near3.index))
		}
		for k, i := range places {
			for j := i - single/2; j <= i+single/2; j++ {
				if near3.count[j] != 1 || near3.index[j] != p.index[at[k]+j-i] {
					t.Errorf("of %d, beside cycle %d: an average of %g about %g", n, at[k], near3.count[j], near3.index[j])
				}
			}
		}
	}
}

// Cycles are numbered by their own numbers within a run, and through a gap by the periods that it holds; one of two tenths of a period and
// more from a whole number is none. An average stands for the cycles about it.
func TestNumbersThroughGaps(t *testing.T) {
	for _, off := range []float64{0, 0.19, -0.19, 0.21, -0.21} {
		var cycles []train.Cycle
		for i := range 20 {
			c := train.Cycle{Rise: 10 * float64(i), Fall: 10*float64(i) + 4, N: 1, Index: float64(i), Start: i == 0}
			if i >= 12 {
				c.Rise, c.Fall, c.Index, c.Start = c.Rise+10*(7+off), c.Fall+10*(7+off), float64(i-12), i == 12
			}
			cycles = append(cycles, c)
		}
		cycles = append(cycles, train.Cycle{Rise: math.NaN(), Fall: 300, N: 1, Index: 9})
		p, ok := newPoints(cycles)
		if ok != (math.Abs(off) < 0.2) {
			t.Errorf("a gap of 8%+g periods: %v", off, ok)
		}
		for i := range p.index {
			if want := float64(i + 7*min(i/12, 1)); ok && (p.index[i] != want || p.high[i] != 4 || p.phase[i] != cycles[i].Rise+2 || p.from[i] != cycles[i].Rise || p.to[i] != cycles[i].Fall) {
				t.Errorf("cycle %d: %g, high %g, middle %g, from %g to %g", i, p.index[i], p.high[i], p.phase[i], p.from[i], p.to[i])
			}
		}
	}
	var alone []train.Cycle // each a record of its own: none has a neighbour, whose distance would be a period
	for i := range 10 {
		alone = append(alone, train.Cycle{Rise: 10 * float64(i), Fall: 10*float64(i) + 4, N: 1, Start: true})
	}
	if p, ok := newPoints(alone); ok {
		t.Errorf("cycles without a period: %+v", p)
	}
	var means []train.Cycle
	for i := range 10 {
		means = append(means, train.Cycle{Rise: 50*float64(i) + 20, Fall: 50*float64(i) + 24, N: 5, Index: 5*float64(i) + 2, Start: i == 0})
	}
	if p, ok := newPoints(means); !ok || p.from[0] != 0 || p.to[0] != 44 || p.count[3] != 5 || p.index[1] != 5 {
		t.Errorf("means of five: %+v", p)
	}
}

// mirrored is the train run backwards.
func mirrored(cycles []train.Cycle) (out []train.Cycle) {
	for i, c := range slices.Backward(cycles) {
		out = append(out, train.Cycle{Rise: 1e6 - c.Fall, Fall: 1e6 - c.Rise, N: c.N, Index: float64(len(cycles) - 1 - i), Start: i == len(cycles)-1})
	}
	return out
}

// What is found does not hang on the unit of time, nor on where it begins, nor on which way it runs; a size changes its sign with that.
func TestFoundWhicheverWayTimeRuns(t *testing.T) {
	for _, c := range []struct {
		n      int
		signal signal
		at, to int
	}{{40, signal{white: 0.2}, 15, 40}, {60, signal{step: 0.2}, 20, 42}, {70, signal{cell: 1, white: 0.4}, 40, 70}, {70, signal{white: 0.1, step: 0.1}, 40, 55}} {
		cycles := c.signal.cycles(rand.New(rand.NewPCG(uint64(c.n), 94)), c.n, func(i int) (float64, float64) {
			if i >= c.at && i < c.to {
				return 1.03, 1.03
			}
			return 1, 1
		})
		want := Find(cycles, c.signal.cell)
		if changes := 1 + map[bool]int{true: 1}[c.to < c.n]; len(want.Sizes) != changes || len(want.Stretches) != changes+1 {
			t.Fatalf("%d cycles: %+v", c.n, want)
		}
		for k, s := range want.Sizes {
			by := 0.03 * 148.4 * float64(1-2*k)
			if !(math.Abs(s.By-by) <= 4*s.Uncertainty) || !(s.Uncertainty < 0.3*math.Abs(by)) {
				t.Errorf("%d cycles: change by %+v, is %g", c.n, s, by)
			}
		}
		const k = 0.25
		scaled := make([]train.Cycle, len(cycles))
		for i, c := range cycles {
			scaled[i] = c
			scaled[i].Rise, scaled[i].Fall = k*c.Rise+900, k*c.Fall+900
		}
		got := Find(scaled, k*c.signal.cell)
		back := Find(mirrored(cycles), c.signal.cell)
		if len(got.Stretches) != len(want.Stretches) || len(back.Stretches) != len(want.Stretches) || got.Alike != want.Alike || back.Alike != want.Alike {
			t.Fatalf("%d cycles: %+v, in another unit %+v, backwards %+v", c.n, want, got, back)
		}
		last := len(want.Stretches) - 1
		for i, s := range want.Stretches {
			near(t, "from, in another unit", got.Stretches[i].From, k*s.From+900, 1e-9)
			near(t, "to, in another unit", got.Stretches[i].To, k*s.To+900, 1e-9)
			near(t, "from, backwards", 1e6-back.Stretches[last-i].To, s.From, 1e-7)
			near(t, "to, backwards", 1e6-back.Stretches[last-i].From, s.To, 1e-7)
		}
		for i, s := range want.Sizes {
			near(t, "size, in another unit", got.Sizes[i].By, k*s.By, 1e-6)
			near(t, "its uncertainty", got.Sizes[i].Uncertainty, k*s.Uncertainty, 1e-6)
			b := back.Sizes[last-1-i]
			if !(math.Abs(b.By+s.By) <= 0.1*s.Uncertainty) || !(math.Abs(b.Uncertainty/s.Uncertainty-1) <= 0.1) {
				t.Errorf("%d cycles: %+v, backwards %+v", c.n, s, b)
			}
		}
		if a, b := got.Course, want.Course; a != b {
			t.Errorf("%d cycles run as %v, in another unit as %v", c.n, b, a)
		}
	}
}

// Of values that jump the place is found and the size, of such as do not, or are all the same, nothing.
func TestValuesThatJump(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 95))
	const n = 60
	at, values, counts := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		at[i], counts[i] = float64(10*i), 10
	}
	for _, jump := range []float64{0, 2} {
		for i := range n {
			values[i] = 40 + 0.2*rnd.NormFloat64()
			if i >= 22 {
				values[i] += jump
			}
		}
		places, sizes := In(at, values, counts)
		if jump == 0 {
			if places != nil || sizes != nil {
				t.Errorf("steady values change at %v by %v", places, sizes)
			}
			continue
		}
		if !slices.Equal(places, []int{22}) {
			t.Fatalf("values that jump at 22 do at %v", places)
		}
		want, u := jump, 0.2*math.Sqrt(1./22+1./38)
		if s := sizes[0]; !(math.Abs(s.By-want) <= 4*s.Uncertainty) || !(s.Uncertainty > 0.7*u && s.Uncertainty < 3*u) { // a drift is left free, which takes twice that
			t.Errorf("by %+v, want %g ± %g and more", s, want, u)
		}
		if places, _ := In(at[18:25], values[18:25], counts[18:25]); places != nil {
			t.Errorf("seven values change at %v", places)
		}
	}
	for i := range n {
		values[i] = 40 + 1e-8*float64(i/30)
	}
	if places, _ := In(at, values, counts); places != nil {
		t.Errorf("values that are the same to their last digits change at %v", places)
	}
}

// Places that are looked at are distinct, in order, as many as are asked for or all there are, and leave a stretch at either end.
func TestCandidates(t *testing.T) {
	for n := 8; n < 200; n += 7 {
		for _, asked := range []float64{5, 20, 40} {
			s := &series{y: make([]float64, n), shortest: 3}
			got := s.candidates(asked)
			room := n - 2*3 + 1
			if got[0] != 3 || got[len(got)-1] > n-3 || len(got) < min(room, int(asked)) || len(got) > min(room, int(asked)+1) {
				t.Errorf("%g of %d points: %v", asked, n, got)
			}
			for i := 1; i < len(got); i++ {
				if step := got[i] - got[i-1]; step < 1 || float64(step) > float64(n-6)/asked+1 && step > 1 {
					t.Errorf("%g of %d points: %v", asked, n, got)
				}
			}
		}
	}
}

// Stretches run from edge to edge between the changes, and where they are long leave out the point beside each change.
func TestStretchesBetweenChanges(t *testing.T) {
	var p points
	for i := range 40 {
		p.index, p.from, p.to = append(p.index, float64(i)), append(p.from, 10*float64(i)), append(p.to, 10*float64(i)+4)
	}
	for _, at := range [][]int{{20}, {11, 29}, {12, 28}, {5}} {
		got := p.stretches(slices.Clone(at))
		from := 0
		for k, to := range append(slices.Clone(at), 40) {
			want := Stretch{10 * float64(from), 10*float64(to-1) + 4}
			if to-from >= 12 {
				if k > 0 {
					want.From += 10
				}
				if to < 40 {
					want.To -= 10
				}
			}
			if got[k] != want {
				t.Errorf("changes at %v: stretch %d is %+v, want %+v", at, k, got[k], want)
			}
			from = to
		}
	}
}

// Among averages a change is placed at the very cycle: where two changes are told to the average, each is found to the cycle.
func TestFinerToTheCycle(t *testing.T) {
	for _, group := range []int{2, 5, 9} {
		for _, c := range [][2]int{{100, 170}, {103, 161}, {97, 188}, {111, 0}} {
			cycles := signal{white: 1e-3}.cycles(rand.New(rand.NewPCG(uint64(group), 96)), 300, func(i int) (float64, float64) {
				if i >= c[0] && (c[1] == 0 || i < c[1]) {
					return 1.04, 0.99
				}
				return 1, 1
			})
			p, _ := newPoints(cycles)
			at, want := []int{c[0] / group, c[1] / group}, c[:]
			if c[1] == 0 {
				at, want = at[:1], want[:1]
			}
			for _, off := range []int{0, 1, -2, 2} { // averages late or early
				if off*off > 1 && (c[0]%group > 0 || c[1]%group > 0) {
					continue // further than two groups from a place within an average
				}
				at := slices.Clone(at)
				for k := range at {
					at[k] += off
				}
				if got := p.finer(at, group); !slices.Equal(got, want) {
					t.Errorf("groups of %d, changes near averages %v: at %v, want %v", group, at, got, want)
				}
			}
		}
	}
}

// Jitter takes from what rounding does to a mean as much as it does from a wave of one cell: exp(-2π²σ²/cell²), the characteristic
// function of a normal (Widrow and Kollár 2008).
func TestJitterBreaksRoundingUp(t *testing.T) {
	for _, white := range []float64{0, 0.15, 0.25, 0.5} {
		const cell = 2.7
		p, _ := newPoints(signal{cell: cell, white: white * cell}.cycles(rand.New(rand.NewPCG(5, 97)), 4000, func(int) (float64, float64) { return 1, 1 }))
		want := math.Exp(-2 * math.Pi * math.Pi * white * white)
		for what, got := range map[string]float64{"middles": p.coherent(cell, p.phase, ofMiddles), "high times": p.coherent(cell, p.high, ofHighs)} {
			if !(got >= want-0.12 && (got <= want+0.12 || white == 0.15)) { // so little may not show in the least of all distances
				t.Errorf("%s with jitter of %g cells: %.3f of the rounding is left, want %.3f", what, white, got, want)
			}
		}
		if got := p.coherent(0, p.phase, ofMiddles); got != 0 {
			t.Errorf("without cells %g of their rounding is left", got)
		}
	}
}

// Places run from 0 to 1, white noise falls with the number averaged, and averaging takes off a walk what makes the differences of
// neighbouring means depend on each other: their covariance, by matrices.
func TestSeriesOfAverages(t *testing.T) {
	for _, n := range []int{1, 3, 8} {
		var p points
		for i := range 30 {
			p.index, p.count = append(p.index, float64(n*i)), append(p.count, float64(n))
			p.phase, p.high = append(p.phase, float64(i)), append(p.high, float64(i%3))
		}
		k := 2 * n // edges of a mean
		means := mat.NewDense(3, 3*k, nil)
		for j := range 3 {
			for i := range k {
				for e := range j*k + i + 1 { // each edge is the sum of the steps before it
					means.Set(j, e, means.At(j, e)+1/float64(k))
				}
			}
		}
		var covariance mat.Dense
		covariance.Mul(means, means.T())
		together := covariance.At(2, 1) - covariance.At(2, 0) - covariance.At(1, 1) + covariance.At(1, 0) // of the two differences
		s := p.phases()
		span := 29 * float64(n)
		near(t, "what averaging takes off", s.smooth[3]*2*span, together, 1e-9) // for a walk of unit size a step has 1/(2 span)
		near(t, "what a walk adds from one to the next", s.cycles, 29*float64(n*n), 1e-9)
		near(t, "first place", s.x[0], 0, 0)
		near(t, "last", s.x[29], 1, 1e-12)
		if s.shortest*n < 3 || (s.shortest-1)*n >= 3 && s.shortest > 2 || s.shortest < 2 {
			t.Errorf("means of %d: stretches of %d at least", n, s.shortest)
		}
		if h := p.highs(); h.smooth[4] != 0 || h.unit != 1 || s.unit != span || h.first() != 0 || s.first() != 1 {
			t.Errorf("means of %d: %+v", n, h.smooth[4])
		}
		for i, x := range s.x { // a drift bends a phase, a warming does exponentially, and neither bends a line
			if !(math.Abs(s.powers[2][i]-(2*x-1)*(2*x-1)) <= 1e-12) || !(math.Abs(s.warming[2][i]-math.Exp(-3*x)) <= 1e-12) || s.powers[0][i] != 1 {
				t.Fatalf("place %g: %g, %g", x, s.powers[2][i], s.warming[2][i])
			}
		}
	}
	uneven := points{index: []float64{0, 2, 5, 9, 14, 20, 27}, phase: make([]float64, 7), count: []float64{1, 8, 2, 4, 16, 4, 2}}
	for i, white := range uneven.phases().white {
		near(t, "white noise of a mean, over that of the usual one", white, 4/uneven.count[i], 1e-12)
	}
	for name, c := range map[string]struct {
		all  []weighed
		want float64
	}{"where nothing is known": {open, 1}, "before a change": {grid, 1}} {
		all := 0.0
		for _, n := range c.all {
			all += math.Exp(n.log)
		}
		near(t, name, all, c.want, 1e-9)
	}
	s := &series{cycles: 60}
	for walk, want := range map[float64]float64{1000: 1, 12: 1, 6: 0.5, 1.2: 0.1} { // a fifth of the white noise a cycle, or less
		near(t, "share", math.Exp(s.share(weighed{noise{walk: walk}, 0})), want, 1e-9)
	}
	phase := &series{cycles: 60, phase: true, coarse: 1, y: make([]float64, 128)}
	for walk, want := range map[float64]float64{0: bar, 20_000. / 128: bar, 40_000. / 128: bar - math.Ln2, 80_000. / 128: bar - math.Log(4), 1e5: bar - math.Log(4)} {
		near(t, "asked against a walk", phase.asked(walk), want, 1e-9)
	}
	for _, s := range []*series{{phase: true, coarse: 1.5, y: phase.y[:20]}, {coarse: 1.5, y: phase.y}} {
		near(t, "asked of few points, and of times themselves", s.asked(1e5), 1.5*bar, 1e-9)
	}
	if s.share(weighed{noise{}, -2}) != -2 || phase.share(weighed{noise{walk: 2}, -3}) != -3 {
		t.Error("noise without a walk, or a walk of the phase, has less than its share")
	}
}

// The likelihoods of a drift, of changes beside one that is given, and of trains that warm up, under noise that walks, are those of
// least squares on the values made independent by the Cholesky factor of their covariance.
func TestWeighingUnderAWalk(t *testing.T) {
	for seed := range uint64(4) {
		s := unlikeSeries(rand.New(rand.NewPCG(seed, 98)), 26, seed%2 == 0)
		n := weighed{noise{walk: 5}, -0.4}
		var given []int
		if seed > 1 {
			given = []int{13}
		}
		at := []int{4, 8, 18, 22}
		l := s.weigh([]weighed{n}, at, given)
		k := len(s.x)
		v := mat.NewSymDense(k, nil)
		for i := range s.x {
			for j := range i + 1 {
				c := n.walk * s.x[j]
				if i == j {
					if c += s.white[i]; i > 0 {
						c -= n.walk * s.smooth[i]
					}
				}
				v.SetSym(i, j, c)
			}
		}
		var root mat.Cholesky
		root.Factorize(v)
		form := func(from int) []float64 {
			place, out := (s.x[from-1]+s.x[from])/2, make([]float64, k)
			for i, x := range s.x {
				if x > place {
					out[i] = map[bool]float64{true: x - place, false: 1}[s.phase]
				}
			}
			return out
		}
		left := func(columns ...[]float64) float64 { // the least squared distance, in the noise
			for d := range s.first() + 1 {
				columns = append(columns, s.powers[d])
			}
			for _, g := range given {
				columns = append(columns, form(g))
			}
			x := mat.NewDense(k, len(columns), nil)
			for j, c := range columns {
				x.SetCol(j, c)
			}
			var w, wy mat.Dense
			var b, rest mat.VecDense
			var a, solved mat.Dense
			_ = root.SolveTo(&w, x)
			a.Mul(x.T(), &w)
			wy.Mul(w.T(), mat.NewVecDense(k, s.y))
			_ = b.SolveVec(&a, wy.ColView(0))
			rest.MulVec(x, &b)
			rest.SubVec(mat.NewVecDense(k, s.y), &rest)
			_ = root.SolveTo(&solved, &rest)
			return mat.Dot(&rest, solved.ColView(0))
		}
		free := float64(k - s.first() - 1 - len(given))
		odds := func(without, with float64) float64 { // of one more column, averaged over its size
			v := math.Pow(without/with, free/2) * math.Sqrt(2*math.Pi) / 14
			if z2 := (without - with) / with * (free - 1); z2 > 1 {
				v /= math.Sqrt(z2)
			}
			return v
		}
		slope := s.powers[s.first()+1]
		still, drift := left(), left(slope)
		slopes := odds(still, drift)
		share := 1 - driftShare - warmingShare
		near(t, "drift over steady", l.slope.over(l.steady), math.Log(driftShare*slopes/share), 1e-5)
		warms := 0.0
		for _, w := range s.warming {
			warms += warmingShare / 4 * slopes * odds(drift, left(slope, w))
		}
		near(t, "warming over steady", l.smooth.over(l.steady), math.Log(warms/share), 1e-5)
		var pairs, all float64
		for i := range at {
			for j := i + 1; j < len(at); j++ {
				pairs += 1 / float64(at[j]-at[i])
			}
		}
		change := func(c []float64, share float64) {
			all += share * ((1-alsoDrifts)*odds(still, left(c)) + alsoDrifts*slopes*odds(drift, left(slope, c)))
		}
		for i, from := range at {
			change(form(from), forGood/4)
			for _, to := range at[i+1:] {
				c := form(from)
				floats.Sub(c, form(to))
				change(c, (1-forGood)/pairs/float64(to-from))
			}
		}
		near(t, "change over steady", l.change.over(l.steady), math.Log(all/share), 1e-4)
	}
}

// The places that stand for all that a change may be at cover each gap once, the likely and the less likely, and none is left without.
func TestLikelyPlacesCoverTheirGaps(t *testing.T) {
	s := unlikeSeries(rand.New(rand.NewPCG(7, 99)), 30, true)
	for i, x := range s.x { // a change that stands out
		s.y[i] += 400 * max(x-0.4, 0)
	}
	n := []weighed{{noise{walk: 3}, 0}}
	from, to := s.room([]float64{0.2, 0.5, 0.9}, 1, 1)
	if from != 0.2+s.brief || to != 0.9-s.brief {
		t.Errorf("between 0.2 and 0.9 there is room from %g to %g", from, to)
	}
	from, to = s.room([]float64{0.5}, 0, 0)
	if from != s.x[s.shortest-1] || to != s.x[30-s.shortest] {
		t.Errorf("a lone change has room from %g to %g", from, to)
	}
	gaps := s.gaps(from, to)
	all := s.guesses(n[0], nil, gaps, nil, false)
	top := highest(all)
	want := 0.0
	for _, g := range all {
		if g.log >= top-unlike {
			want += gaps[g.place].width
		}
	}
	got := 0.0
	for _, spot := range s.likely(n, nil, nil, from, to, false) {
		if got += spot.width; spot.at < from || spot.at > to {
			t.Errorf("a place at %g", spot.at)
		}
	}
	near(t, "covered", got, want, 1e-9)
	if o := (Size{2, 1}).Over(4); o != (Size{0.5, 0.25}) {
		t.Errorf("%+v", o)
	}
	if stands(Size{3.9, 1}) || !stands(Size{-4.1, 1}) || stands(Size{7.8, 2}) || !stands(Size{8.2, 2}) {
		t.Error("four standard uncertainties are another bar")
	}
}

// Nothing counts but where values lie from each other: not where they begin. Eight are enough, where each stands out.
func TestBeginningDoesNotCount(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 95))
	const n = 40
	at, later, values, counts := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		at[i], later[i], counts[i], values[i] = float64(10*i), float64(10*i+5000), 10, 40+0.2*rnd.NormFloat64()
		if i >= 4 && i < 24 {
			values[i] += 2
		}
	}
	places, sizes := In(at, values, counts)
	moved, alike := In(later, values, counts)
	if !slices.Equal(places, moved) || !slices.Equal(places, []int{4, 24}) {
		t.Fatalf("they change at %v, and at %v where they begin later; want 4 and 24", places, moved)
	}
	for k, s := range sizes {
		if !scalar.EqualWithinRel(s.By, alike[k].By, 1e-6) || !scalar.EqualWithinRel(s.Uncertainty, alike[k].Uncertainty, 1e-6) {
			t.Errorf("change %d: %+v, and %+v where they begin later", k, s, alike[k])
		}
	}
	few := []float64{1, 1.001, 0.999, 1, 3, 3.001, 2.999, 3}
	if places, _ := In(at[:8], few, counts[:8]); !slices.Equal(places, []int{4}) {
		t.Errorf("eight values change at %v, want 4", places)
	}
}

// What the likeliest two changes leave is sought in the stretches between them.
func TestValuesThatJumpOften(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 95))
	want := []int{16, 44, 54, 80}
	by := []float64{1.5, 2.5, -2, -1.6}
	at, values, counts := make([]float64, 110), make([]float64, 110), make([]float64, 110)
	for i := range values {
		at[i], counts[i], values[i] = float64(10*i), 10, 40+0.2*rnd.NormFloat64()
		for k, from := range want {
			if i >= from {
				values[i] += by[k]
			}
		}
	}
	places, sizes := In(at, values, counts)
	if !slices.Equal(places, want) {
		t.Fatalf("values that jump at %v do at %v", want, places)
	}
	for k, s := range sizes {
		if !(math.Abs(s.By-by[k]) <= 4*s.Uncertainty) || !(s.Uncertainty < 0.3) {
			t.Errorf("at %d by %+v, want %g", want[k], s, by[k])
		}
	}
}
