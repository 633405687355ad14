package noise

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
)

// near is close, and false for what is no number.
func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)+1e-12) {
		t.Errorf("%s: %.8g, want %.8g", what, got, want)
	}
}

// What the record's own Allan deviation leaves open grows with the square of the unit, and is that of the record from which a hum that was
// found is taken off: by how much the rising edges are late, sine and cosine of the line and twice it.
func TestAllanInEveryUnit(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 61))
	e := walking(rnd, [2]float64{0.4, 0.6}, [2]float64{0.001, 0.001}, 0.002, 60, false)
	for i := range e {
		e[i] += 0.02 * math.Max(0, e[i]-e[60]) // two periods, one after the other
	}
	record := recordOf(e)
	of := func(k, unit float64, h *hum, starts []float64) budget.Row {
		c := record.Cycles
		scaled := make([]train.Cycle, len(c))
		for i := range c {
			scaled[i] = c[i]
			scaled[i].Rise, scaled[i].Fall = k*c[i].Rise, k*c[i].Fall
		}
		s := record.Series
		s.Start = make([]float64, len(starts))
		for i, x := range starts {
			s.Start[i] = k * unit * x
		}
		m := &model{c: newChain(scaled, 1), fl: floors{lattice: [2]float64{9, k * k * 1e-5}}}
		return m.allan(&s, unit, h, func(n float64) float64 { return k * k * 1e-6 * n })
	}
	plain := of(1, 1, nil, record.Series.Start)
	if !(plain.High > 0 && plain.Low > 0) {
		t.Fatalf("%+v", plain)
	}
	for _, k := range []float64{137, 0.02} {
		other := of(k, 3.7, nil, record.Series.Start)
		near(t, "high", other.High/(k*k), plain.High, 1e-9)
		near(t, "low", other.Low/(k*k), plain.Low, 1e-9)
	}
	h := &hum{frequency: 0.013, middle: 31, late: [humUnknowns]float64{5, 6, 0.02, -0.05, 7, 8, 0.03, 0.04}}
	late := make([]float64, len(record.Series.Start))
	for i, x := range record.Series.Start {
		a := 2 * math.Pi * 0.013 * (x - 31)
		h.late = [humUnknowns]float64{5, 6, 0.02, -0.05, 7, 8, 0.03, 0.04}
		late[i] = x + 0.02*math.Sin(a) - 0.05*math.Cos(a) + 0.03*math.Sin(2*a) + 0.04*math.Cos(2*a)
	}
	hummed := of(1, 1, h, late) // the late edges lie a little elsewhere on the wave: second order
	near(t, "beside hum", hummed.High, plain.High, 0.05)
	if bare := of(1, 1, nil, late); math.Abs(bare.High/plain.High-1) < 0.2 {
		t.Error("the hum is too small to be seen")
	}
}

// The law of total variance: that of the mean period is the mean of those without a walk and with one, by their odds, and what the two
// means differ. Means that do not differ by more than they are open leave little of that. Noise that few cycles hide is in all three.
func TestTotalVariance(t *testing.T) {
	for seed := range uint64(8) {
		rnd := rand.New(rand.NewPCG(seed, 62))
		k := Known{Lattice: cell.Lattice{Cell: 0.01, Sharpness: [2]float64{1, 1}}}
		if seed%4 == 3 {
			k = sharp
		}
		r, err := Estimate(recordOf(walking(rnd, [2]float64{50.3, 70.1}, [2]float64{0.02, 0.02}, 0.05, 2+int(seed), seed%4 == 3)), k)
		if err != nil {
			t.Fatal(err)
		}
		mean := r.Walk*r.WithWalk + (1-r.Walk)*r.WhiteAlone
		if v := period(r.Rows...); !(v >= 0.999*mean && v <= 1.3*mean) || !(r.Walk > 0 && r.Walk < 1) {
			t.Errorf("record %d: variance %.4g, of its parts %.4g; walk %.3f", seed, v, mean, r.Walk)
		}
		least := period(unshown(r.High, 2+int(seed), r.Low, 2+int(seed)))
		if !(r.WhiteAlone >= least && r.WithWalk >= r.WhiteAlone*0.5) {
			t.Errorf("record %d: %.4g without a walk, %.4g with one; %.4g is hidden", seed, r.WhiteAlone, r.WithWalk, least)
		}
	}
}

// Times without a lattice are those on a very fine one; two whole cycles are enough.
func TestWithoutLattice(t *testing.T) {
	e := walking(rand.New(rand.NewPCG(1, 63)), [2]float64{0.5, 0.7}, [2]float64{1e-3, 1e-3}, 1e-3, 40, false)
	for _, cycles := range []int{2, 40} {
		record := recordOf(e[:2*cycles+1])
		bare, err := Estimate(record, Known{})
		if err != nil {
			t.Fatal(err)
		}
		fine, err := Estimate(record, Known{Lattice: cell.Lattice{Cell: 1e-8, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "high", bare.High, fine.High, 1e-4)
		near(t, "low", bare.Low, fine.Low, 1e-4)
		near(t, "variance", variance(bare), variance(fine), 0.1)
	}
}

// humming is a train whose edges are late by a line of the mains, Hz, at 3.6 kHz; rounded to its samples if cells is set.
func humming(rnd *rand.Rand, line, size, white float64, cycles int, cells bool) (e []float64, second float64) {
	const high, period = 40.3, 98.37
	second = 3600 * period
	for k := range 2*cycles + 1 {
		x := 5 + float64(k/2)*period + float64(k%2)*high
		x += size*math.Sin(2*math.Pi*line*x/second+1) + white*rnd.NormFloat64()
		if cells {
			x = math.Ceil(x) - 0.5
		}
		e = append(e, x)
	}
	return e, second
}

// A line of the mains is found where it is, as large as it is, and then the times are nearly as well known as without it: 1.3 times as
// open, on the geometric mean. With one fit alone, whose noise is that of edges that the hum still moves, lines are found up to 0.43 Hz off,
// and the period is left 2 times as open, up to 17 times.
func TestHumIsFoundAndGone(t *testing.T) {
	sum, n := 0.0, 0.0
	for i, line := range []float64{50, 50.3, 49.6, 60.4, 59.5} {
		for _, cells := range []bool{true, false} {
			rnd := rand.New(rand.NewPCG(uint64(i), 64))
			known := sharp
			if !cells {
				known = Known{Lattice: cell.Lattice{Cell: 0.01, Sharpness: [2]float64{1, 1}}}
			}
			const size, cycles = 1.5, 300
			e, second := humming(rnd, line, size, 0.2, cycles, cells)
			known.Second = second
			r, err := Estimate(recordOf(e), known)
			if err != nil {
				t.Fatal(err)
			}
			w := 2 * math.Pi * line / second
			near(t, "frequency", r.Slow.Hum, line, 8e-3)
			near(t, "swing", r.Slow.Swing, w*size, 0.03) // of the period, relative: the largest slope of the wave
			if u := math.Sqrt(variance(r)); !(math.Abs(r.High+r.Low-98.37) <= 4*u) || r.Slow.HumUnseen {
				t.Errorf("line %g: period off by %.3g of %.3g, unseen %v", line, r.High+r.Low-98.37, u, r.Slow.HumUnseen)
			}
			e, _ = humming(rand.New(rand.NewPCG(uint64(i), 64)), line, 0, 0.2, cycles, cells)
			quiet, err := Estimate(recordOf(e), known)
			if err != nil {
				t.Fatal(err)
			}
			sum, n = sum+math.Log(variance(r)/variance(quiet))/2, n+1
			if quiet.Slow.Hum != 0 {
				t.Errorf("without a line one of %g Hz is found", quiet.Slow.Hum)
			}
			short, err := Estimate(recordOf(e[:200]), known) // 27 ms
			if err != nil || !short.Slow.HumUnseen {
				t.Errorf("27 ms show hum: %v", err)
			}
		}
	}
	if k := math.Exp(sum / n); !(k <= 1.5) {
		t.Errorf("hum leaves the period %.2f times as open as it is without", k)
	}
}

// Hum's lines are told apart where they go through two cycles against the train, and against each other, in a record: counted here along
// the train, as the phase that a line seen once a period comes to.
func TestLinesApart(t *testing.T) {
	turns := func(f, cycles float64) float64 { // of the wave that is seen, the slower of it and its mirror image
		f -= math.Floor(f)
		return cycles * min(f, 1-f)
	}
	for _, f := range []float64{0.013, 0.05, 0.24, 0.26, 0.333, 0.4, 0.499, 0.7, 0.98, 1.03} {
		for _, cycles := range []float64{5, 30, 170} {
			a, b := turns(f, cycles), turns(2*f, cycles)
			if got, want := apart(f, cycles), a >= 2 && b >= 2 && math.Abs(a-b) >= 2; got != want {
				t.Errorf("%g turns a period over %g: %v", f, cycles, got)
			}
		}
	}
}

// The mean square of how late hum makes an edge, of both kinds alike, and the largest change of the period: by the wave itself.
func TestPowerAndSwing(t *testing.T) {
	h := &hum{frequency: 0.01, late: [humUnknowns]float64{0.3, -0.1, 0.2, 0.5, 0.05, 0, -0.2, 0.1}}
	const n = 1000
	square := 0.0
	for kind := range 2 {
		for i := range n {
			a, late := 2*math.Pi*float64(i)/n, 0.0
			for line := range 2 {
				k := 4*line + 2*kind
				late += h.late[k]*math.Sin(float64(line+1)*a) + h.late[k+1]*math.Cos(float64(line+1)*a)
			}
			square += late * late / n / 2
		}
	}
	near(t, "power", h.power(), square, 1e-9)
	one := &hum{frequency: 0.01, late: [humUnknowns]float64{4: 0.3, 6: 0.3}} // both edges late by 0.3 sin of twice the line
	near(t, "swing", one.swing(), 0.3*2*math.Pi*0.02, 1e-9)
}

// The least walk that matters adds a fifth to the variance of the mean period beside white noise, which is a tenth more uncertainty; beside
// rounding it is less by one more power of the cycles. Of the noises of the same train in another unit both ends of the prior go along.
func TestPriorOfNoise(t *testing.T) {
	for _, cycles := range []int{40, 200} {
		c := singly(rand.New(rand.NewPCG(1, 65)), cycles, 0.1, 0)
		fl := &floors{known: [2]float64{0.02, 0.02}}
		of := func(walk float64) float64 {
			var f filter
			nz := fl.noise(excess{0.01, walk / 2, walk / 2})
			c.run(&nz, &f)
			return (f.sll + f.shh - 2*f.shl) / (f.shh*f.sll - f.shl*f.shl)
		}
		near(t, "variance with the least walk", of(math.Exp(c.leastWalk(fl, 0.01)))/of(0), 1.2, 0.03)
		rounded := &floors{lattice: [2]float64{0.03, 0.05}}
		near(t, "beside rounding", math.Exp(c.leastWalk(rounded, 0)-c.leastWalk(&floors{known: rounded.lattice}, 0)), 1/c.cycles, 1e-9)
		const k = 7.0
		d := *c
		d.y, d.h0, d.l0 = make([]float64, len(c.y)), k*c.h0, k*c.l0
		floats.ScaleTo(d.y, k, c.y)
		for _, still := range []bool{false, true} {
			if still { // then what such trains are known for
				clear(c.y)
				clear(d.y)
			}
			one, other := floors{lattice: [2]float64{1e-16, 3e-16}}, floors{lattice: [2]float64{3e-16 * k * k, 1e-16 * k * k}}
			lo, hi := c.prior(&one)
			low, high := d.prior(&other)
			near(t, "least white noise", low-lo, 2*math.Log(k), 1e-9)
			near(t, "and most", high-hi, 2*math.Log(k), 1e-9)
		}
	}
	for _, limit := range []float64{-20, -3, 1, 5, 40} {
		if p := part(limit, -4, 6); !(p > 0 && p < 1) || limit == 1 && p != 0.5 {
			t.Errorf("%g cuts off %g", limit, p)
		}
	}
}

// Rounding over all phases by complex exponentials: Σ 2 c² |Σ w exp(2πi M φ)|², as far as jitter leaves the harmonics coherent and an
// average lets them through; what it takes from them, and the rest, adds up edge by edge. Harmonics follow on each other or stand alone.
func TestSumsByExponentials(t *testing.T) {
	for seed := range uint64(6) {
		rnd := rand.New(rand.NewPCG(seed, 66))
		c := someChain(rnd, seed%2 == 1)
		n := len(c.y)
		var wa, wb, phase []float64
		for range n {
			wa, wb, phase = append(wa, rnd.NormFloat64()), append(wb, rnd.NormFloat64()), append(phase, 50*rnd.Float64())
		}
		terms := []cell.Term{{M: 1, C: [2]float64{0.3, 0.2}}, {M: 2, C: [2]float64{0.1, -0.2}}, {M: 3, C: [2]float64{0.05, 0.1}}, {M: 9, C: [2]float64{0.2, 0.1}}, {M: 10.5, C: [2]float64{0.1, 0.3}}}
		if seed >= 4 {
			terms = terms[3:] // none follows on
		}
		jitter, rest := [2]float64{0.001, 0.003}, [2]float64{0.02, 0.03}
		if seed%3 == 2 {
			jitter = [2]float64{50, 60} // nothing is coherent
		}
		var want [3]float64
		total := make([][2]complex128, len(terms))
		for i := range n {
			k := kind(c.rise[i])
			alone := rest[k] / c.n[i]
			for m, term := range terms {
				left := math.Exp(-2 * math.Pi * math.Pi * term.M * term.M * jitter[k])
				alone += 2 * term.C[k] * term.C[k] * (1 - left*left) / c.n[i]
				through := 0.0 // of an average, edge by edge
				for j := range int(c.n[i]) {
					through += math.Cos(2*math.Pi*term.M*(float64(j)-(c.n[i]-1)/2)*(c.h0+c.l0)) / c.n[i]
				}
				e := cmplx.Rect(term.C[k]*left*through, 2*math.Pi*term.M*phase[i])
				total[m][0] += complex(wa[i], 0) * e
				total[m][1] += complex(wb[i], 0) * e
			}
			want[0], want[1], want[2] = want[0]+alone*wa[i]*wa[i], want[1]+alone*wa[i]*wb[i], want[2]+alone*wb[i]*wb[i]
		}
		for _, s := range total {
			want[0] += 2 * real(s[0]*cmplx.Conj(s[0]))
			want[1] += 2 * real(s[0]*cmplx.Conj(s[1]))
			want[2] += 2 * real(s[1]*cmplx.Conj(s[1]))
		}
		aa, ab, bb := c.sums(nil, wa, wb, phase, jitter, terms, rest)
		for i, got := range []float64{aa, ab, bb} {
			near(t, "sum", got, want[i], 1e-6)
		}
	}
}

// Bends are a linear form of the edges, which a steady train leaves at nought: fed edge by edge it gives their covariance under white
// noise, and fed period by period that under random steps. Their waves are cosines of half periods and more beside a slope.
func TestBendsEdgeByEdge(t *testing.T) {
	for _, cycles := range []int{30, 110} {
		c := singly(rand.New(rand.NewPCG(2, 67)), cycles, 0.1, 0)
		other := c.start[1:]
		if cycles == 30 { // shorter runs before and after the longest do not count
			other[10], other[50] = true, true
		}
		fed := func(value func(i int) float64) []float64 {
			d := *c
			d.y = make([]float64, len(c.y))
			for i := range d.y {
				d.y[i] = value(i)
			}
			return d.bends().size
		}
		b := c.bends()
		for _, x := range fed(func(i int) float64 { return 3 + 0.2*c.index[i] }) {
			if !(math.Abs(x) <= 1e-9) {
				t.Fatalf("a steady train bends by %g", x)
			}
		}
		k := len(b.size)
		white, walk := mat.NewSymDense(k, nil), mat.NewSymDense(k, nil)
		for i := range c.y {
			white.SymRankOne(white, 1, mat.NewVecDense(k, fed(func(j int) float64 { return map[bool]float64{true: 1}[i == j] })))
			if i > 0 && c.rise[i] { // a step in each low time
				walk.SymRankOne(walk, 1, mat.NewVecDense(k, fed(func(j int) float64 { return map[bool]float64{true: 1}[j >= i] })))
			}
		}
		for i := range k {
			for j := range i + 1 {
				if !(math.Abs(white.At(i, j)-b.white.At(i, j)) <= 1e-9) {
					t.Fatalf("%d cycles: under white noise %d and %d have the covariance %g, edge by edge %g", cycles, i, j, b.white.At(i, j), white.At(i, j))
				}
				if cycles < 100 && !(math.Abs(walk.At(i, j)-b.walk.At(i, j)) <= 1e-9*math.Sqrt(walk.At(i, i)*walk.At(j, j))) { // of means it is that of their middles
					t.Fatalf("%d cycles: under steps %d and %d have the covariance %g, step by step %g", cycles, i, j, b.walk.At(i, j), walk.At(i, j))
				}
			}
		}
		u := make([]float64, 40)
		for i := range u {
			u[i] = 3 + 1.5*float64(i)
		}
		waves := b.basis(u)
		for half := 1; half <= len(waves); half++ {
			left := make([]float64, len(u))
			for i, x := range u {
				left[i] = math.Cos(math.Pi * float64(half) * (x - u[0]) / (u[39] - u[0]))
			}
			span := mat.NewDense(len(u), 2+half, nil)
			for i, x := range u {
				span.Set(i, 0, 1)
				span.Set(i, 1, x)
				for j, w := range waves[:half] {
					span.Set(i, 2+j, w[i])
				}
			}
			var fit, rest mat.VecDense
			_ = fit.SolveVec(span, mat.NewVecDense(len(u), left))
			rest.MulVec(span, &fit)
			rest.SubVec(mat.NewVecDense(len(u), left), &rest)
			if !(mat.Norm(&rest, 2) <= 1e-9) {
				t.Errorf("a cosine of %d half periods is not of the first %d waves: %g is left", half, half, mat.Norm(&rest, 2))
			}
		}
	}
}

// What slow noise adds counts as far as the train is not steady, and grows with the odds of one more unknown, 1 over √N.
func TestSlowNoiseByItsOdds(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 68))
	x, y := 0.0, 0.0
	var e []float64
	for range 61 {
		y += 0.02 * rnd.NormFloat64()
		e = append(e, x+0.1*rnd.NormFloat64(), x+40+0.1*rnd.NormFloat64())
		x += 100 + y
	}
	record := recordOf(e)
	m := &model{lattice: &cell.Lattice{}, c: newChain(record.Cycles, 1), sample: newChain(record.Sample, 1)}
	m.fit()
	of := func(steady float64) (float64, fit.Slow) {
		var r fit.Slow
		o := newOdds(m.ways, nil, true, true)
		floats.Scale(1-steady, o.ways)
		o.steadyStill = steady
		row, allan := m.slow(&o, 0.01, &r)
		near(t, "its row", period(row), allan[0]+allan[1], 1e-9)
		return allan[0] + allan[1], r
	}
	all, chance := of(0)
	half, less := of(0.5)
	if near(t, "beside a steady train", half, all/2, 1e-9); !(all > 0) {
		t.Error("nothing is slow")
	}
	near(t, "flicker", less.Flicker, chance.Flicker/2, 1e-9)
	near(t, "wander", less.Wander, chance.Wander/2, 1e-9)
	if none, _ := of(0.9999); none != 0 {
		t.Errorf("a train that is all but surely steady is left %g", none)
	}
}

// The evidence of a steady train by its edges' places counts each edge as anywhere in its cell: the density of one is one over its width.
func TestCellsCountByTheirWidth(t *testing.T) {
	var c []train.Cycle
	for k := range 30 {
		x := 3.3 + 20.02*float64(k)
		c = append(c, train.Cycle{Rise: math.Floor(x) + 0.5, Fall: math.Floor(x+7) + 0.5, Index: float64(k), N: 1, Start: k == 0})
	}
	at := newChain(c, 1)
	whole, part := at.steady(&floors{width: [2]float64{1, 1}, places: true}), at.steady(&floors{width: [2]float64{0.95, 1}, places: true})
	if whole == nil || part == nil {
		t.Fatal("not steady")
	}
	near(t, "without a walk", part.still.log-whole.still.log, -30*math.Log(0.95), 1e-9)
	near(t, "with one", part.walk.log-whole.walk.log, -30*math.Log(0.95), 1e-9)
}

// The likeliest way is the one of most evidence, wherever it stands.
func TestLikeliest(t *testing.T) {
	for best := range 3 {
		m := &model{ways: []way{{found: found{log: -5}}, {found: found{log: -7}}, {found: found{log: -6}}}}
		m.ways[best].log, m.ways[best].white = 1, 42
		if m.likeliest().white != 42 {
			t.Errorf("not way %d", best)
		}
	}
}

// The same train in another unit of time has the same answer in it, with a lattice and without, whatever is known of the edges.
func TestEstimateInEveryUnit(t *testing.T) {
	e := walking(rand.New(rand.NewPCG(4, 69)), [2]float64{50.3, 70.1}, [2]float64{0.05, 0.05}, 0.3, 60, false)
	for _, size := range []float64{0, 0.02} {
		k := Known{Lattice: cell.Lattice{Cell: size, Sharpness: [2]float64{1, 1}}, White: [2]float64{0.02, 0.05}, Second: 3e4}
		one, err := Estimate(recordOf(e), k)
		if err != nil {
			t.Fatal(err)
		}
		const by = 8.0
		other := recordOf(e)
		other.Cycles = slices.Clone(other.Cycles)
		for i := range other.Cycles {
			c := &other.Cycles[i]
			c.Rise, c.Fall = c.Rise*by, c.Fall*by
		}
		other.Sample = other.Cycles // few enough to be kept singly
		for i := range other.Series.Start {
			other.Series.Start[i] *= by
		}
		k.Lattice.Cell, k.White, k.Second = by*size, [2]float64{by * by * 0.02, by * by * 0.05}, by*3e4
		scaled, err := Estimate(other, k)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "high", scaled.High/by, one.High, 1e-9)
		near(t, "low", scaled.Low/by, one.Low, 1e-9)
		near(t, "variance", variance(scaled)/by/by, variance(one), 1e-6)
		near(t, "known part", scaled.Rows[0].High/by/by, one.Rows[0].High, 1e-6)
		near(t, "white noise", scaled.White/by, one.White, 1e-6)
		near(t, "step", scaled.Step/by, one.Step, 1e-6)
		near(t, "without a walk", scaled.WhiteAlone/by/by, one.WhiteAlone, 1e-6)
	}
}
