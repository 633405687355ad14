package cell

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"offbeat/fit/budget"
)

// Bends are the shifted Legendre polynomials of mean square one: no two of them share anything, and none has a straight line.
func TestLegendre(t *testing.T) {
	for i := 1; i <= 4; i++ {
		for j := 1; j <= i; j++ {
			want := 0.0
			if i == j {
				want = 1
			}
			if got := quad.Fixed(func(x float64) float64 { return legendre(i, x) * legendre(j, x) }, 0, 1, 12, nil, 0); !(math.Abs(got-want) <= 1e-12) {
				t.Errorf("mean product of degrees %d and %d is %g, want %g", i, j, got, want)
			}
		}
		if got := legendre(i, 1); !(math.Abs(got-math.Sqrt(float64(2*i+1))) <= 1e-12) {
			t.Errorf("degree %d ends at %g", i, got)
		}
	}
}

// bumpy is a bend whose evidence is lopsided, with the sizes that are looked at.
func bumpy(top, lean float64) (b bend) {
	for _, x := range []float64{-0.8, -0.4, -0.2, -0.1, -0.05, 0, 0.05, 0.1, 0.2, 0.4, 0.8} {
		b = append(b, stray{x, top*x - math.Abs(x)*x*x*20 - x*x, lean*x + x*x, 0.3*lean*x - 0.2*x*x})
	}
	return b
}

// at reads a bend between its sizes by straight lines; beyond them it stays as it is.
func (b bend) at(x float64) (log, high, period float64) {
	x = min(max(x, b[0].size), b[len(b)-1].size)
	for k := range b[1:] {
		if y, z := b[k], b[k+1]; x <= z.size {
			p := (x - y.size) / (z.size - y.size)
			return (1-p)*y.log + p*z.log, (1-p)*y.high + p*z.high, (1-p)*y.period + p*z.period
		}
	}
	return math.NaN(), math.NaN(), math.NaN()
}

// triple is the mean evidence of three bends of normal sizes with the standard deviations given, by plain sums over all, and the second
// moments of what they change together.
func triple(b [3]bend, sd [3]float64) (w, hh, hp, pp float64) {
	const n = 21
	all := 0.0
	var at [3][n]stray
	for k := range b {
		for i := range n {
			z := -4 + 8*float64(i)/(n-1)
			l, h, p := b[k].at(z * sd[k])
			at[k][i] = stray{math.Exp(-z * z / 2), math.Exp(l - z*z/2), h, p}
		}
	}
	for _, x := range at[0] {
		for _, y := range at[1] {
			for _, z := range at[2] {
				q, h, p := x.log*y.log*z.log, x.high+y.high+z.high, x.period+y.period+z.period
				all, w = all+x.size*y.size*z.size, w+q
				hh, hp, pp = hh+q*h*h, hp+q*h*p, pp+q*p*p
			}
		}
	}
	return w / all, hh / w, hp / w, pp / w
}

// What three bends that go together, or one in their stead, add to the covariance: the second moments of what they change of the high
// time and of the period, where sizes are normal, of a log-uniform spread, and a bend as likely as is supposed.
func TestHiddenBendsAgainstPlainSums(t *testing.T) {
	a, b, c, other := bumpy(2, 1.5), bumpy(-1, 0.7), bumpy(1, 1), bumpy(0.5, -0.4)
	const least, most, sizes = 0.03, 0.5, 60
	var logs, hh, hp, pp [2]float64
	for i := range sizes {
		s := least * math.Pow(most/least, (float64(i)+0.5)/sizes)
		none := bend{{size: -1}, {}, {size: 1}}
		w, x, y, z := triple([3]bend{a, b, c}, [3]float64{s, s * 0.5, s * 0.4})
		logs[0], hh[0], hp[0], pp[0] = logs[0]+w/sizes, hh[0]+w*x/sizes, hp[0]+w*y/sizes, pp[0]+w*z/sizes
		w, x, y, z = triple([3]bend{other, none, none}, [3]float64{s, s, s})
		logs[1], hh[1], hp[1], pp[1] = logs[1]+w/sizes, hh[1]+w*x/sizes, hp[1]+w*y/sizes, pp[1]+w*z/sizes
	}
	of := func(i int) float64 { return supposed * logs[i] / (1 - supposed + supposed*logs[i]) }
	for i, bends := range [][]bend{{a, b, c}, {other}} {
		f := Fit{Row: budget.Row{High: 0.01, Both: 0.002, Low: 0.03}}
		f.hide([][]bend{bends}, []float64{1, 0.25, 0.16}, least, most)
		row := budget.Row{High: of(i) * hh[i] / logs[i], Both: of(i) * (hp[i] - hh[i]) / logs[i], Low: of(i) * (pp[i] - 2*hp[i] + hh[i]) / logs[i]}
		for _, c := range []struct{ got, want float64 }{{f.Row.High - 0.01, row.High}, {f.Row.Both - 0.002, row.Both}, {f.Row.Low - 0.03, row.Low}} {
			if !(math.Abs(c.got-c.want) <= 0.02*row.High) {
				t.Errorf("%d bends add %.5g, by plain sums %.5g", len(bends), c.got, c.want)
			}
		}
	}
	for _, limits := range [][2]float64{{0.2, 0.1}, {3, 5}} {
		f := Fit{}
		if f.hide([][]bend{{a}}, []float64{1}, limits[0], limits[1]); f.Row != (budget.Row{}) {
			t.Errorf("no size from %g to %g adds %+v", limits[0], limits[1], f.Row)
		}
	}
}

// creeping is a train of noisy edges that creeps through its cells.
func creeping(rnd *rand.Rand, cycles int, jitter, step float64) *Edges {
	var e Edges
	x := rnd.Float64()
	for k := range cycles {
		for s, at := range [2]float64{x + 7.3, x} {
			e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(at+jitter*rnd.NormFloat64()))
		}
		x += 20 + 3.3/float64(cycles) + step*rnd.NormFloat64()
	}
	return &e
}

// back is the train of the edges played backwards, and over the one whose levels are exchanged, its first high pulse left out.
func (e *Edges) back() *Edges {
	var r Edges
	for s := range e.Index {
		from := e.Index[1-s]
		for i := len(from) - 1; i >= 0; i-- {
			r.Index[s], r.Side[s] = append(r.Index[s], -from[i]), append(r.Side[s], -e.Side[1-s][i]-1)
		}
	}
	return &r
}

func (e *Edges) over() *Edges {
	var r Edges
	r.Index[1], r.Side[1] = e.Index[0], e.Side[0]
	for i, k := range e.Index[1] {
		r.Index[0], r.Side[0] = append(r.Index[0], k-1), append(r.Side[0], e.Side[1][i])
	}
	return &r
}

// A train played backwards has the same times and hidden drift; one of exchanged levels has the other's.
func TestBackwardsAndUpsideDown(t *testing.T) {
	for _, cycles := range []int{30, 700} {
		e := creeping(rand.New(rand.NewPCG(uint64(cycles), 5)), cycles, 0.02, 0)
		n := float64(cycles - 1)
		look := func(e *Edges) *Fit {
			f := Solve(e, 20+3.3/float64(cycles), n)
			f.Hide(nil)
			return f
		}
		f := look(e)
		for name, other := range map[string]*Edges{"backwards": e.back(), "upside down": e.over()} {
			g := look(other)
			high, row := g.High, g.Row
			if name == "upside down" {
				high, row = g.Period-g.High, budget.Row{High: row.Low, Both: row.Both, Low: row.High}
			}
			u := math.Sqrt(f.Row.High)
			if !(math.Abs(high-f.High) <= 0.05*u) || !(math.Abs(g.Period-f.Period) <= 0.05*u) || !(math.Abs(row.High-f.Row.High) <= 0.05*u*u) || !(math.Abs(row.Low-f.Row.Low) <= 0.05*u*u) {
				t.Errorf("%d cycles, %s: high %.5f, period %.6f, %+v; forwards %.5f, %.6f, %+v", cycles, name, high, g.Period, row, f.High, f.Period, f.Row)
			}
		}
	}
}

// What Hide looks at: parabolas of a period that changes evenly by 1e-6 to 3e-3 over the record, with the finer bends as a drift that walks
// has them, by the covariance of a walk summed twice; and lines that swing the period by 1e-5 to 1e-2, at four phases. The sizes that
// these make of the edges are summed here.
func TestHideLooksAtDriftsAndLines(t *testing.T) {
	const cycles, n = 60, 240
	e := creeping(rand.New(rand.NewPCG(4, 5)), cycles, 0.02, 0)
	f, g := Solve(e, 20+3.3/cycles, cycles-1), Solve(e, 20+3.3/cycles, cycles-1)
	last := float64(cycles - 1)
	var share [3]float64
	for a := range n {
		for b := range n {
			x, y := (float64(a)+0.5)/n, (float64(b)+0.5)/n
			s, l := min(x, y), max(x, y)
			for j := range share {
				share[j] += s * s * (3*l - s) / 6 * legendre(j+2, x) * legendre(j+2, y) / (n * n)
			}
		}
	}
	// Edges of a period that grows evenly by all of itself over the record, less their straight line.
	var drift float64
	for i := range 2000 {
		x := (float64(i) + 0.5) / 2000
		late := f.start * last * (x*x/2 - x/2 + 1.0/12)
		drift += late * late / 2000
	}
	drift = math.Sqrt(drift)
	along := g.thin().along(softest)
	g.hide([][]bend{slow(along, broadest)}, []float64{1, share[1] / share[0], share[2] / share[0]}, 1e-6*drift, 3e-3*drift)
	const turns = 0.043
	// Periods that swing by all of themselves: the edges are their sum.
	swing := 0.0
	for i := range 2000 {
		late := f.start / (2 * math.Pi * turns) * math.Cos(2*math.Pi*float64(i)/2000)
		swing += late * late / 2000
	}
	swing = math.Sqrt(swing)
	var phases [][]bend
	for i := range 4 {
		phases = append(phases, []bend{along(func(x float64) float64 {
			return math.Sqrt2 * math.Sin(2*math.Pi*turns*x*last+math.Pi*float64(i)/4)
		}, broadest)})
	}
	g.hide(phases, []float64{1}, 1e-5*swing, 1e-2*swing)
	f.Hide([]float64{turns})
	for _, x := range [][2]float64{{f.Row.High, g.Row.High}, {f.Row.Both, g.Row.Both}, {f.Row.Low, g.Row.Low}} {
		if !(math.Abs(x[0]/x[1]-1) <= 0.02) {
			t.Errorf("%+v, of the sizes summed %+v", f.Row, g.Row)
			break
		}
	}
	// A line so fast that it can't move an edge by a part of a cell hides nothing, nor does any drift of a few cycles.
	h, k := Solve(e, 20+3.3/cycles, cycles-1), Solve(e, 20+3.3/cycles, cycles-1)
	h.Hide([]float64{20})
	k.Hide(nil)
	if h.Row != k.Row {
		t.Errorf("a line of 20 turns a cycle hides %+v", h.Row)
	}
}

// Trains of 900 cycles that creep past one cell or two while a drift bends them by a fiftieth of a cell to one: the error of the high time
// over its uncertainty has a root mean square of 2.0 with what they may hide, looked for in a few hundred of their edges, and 8 without.
func TestBentTrains(t *testing.T) {
	const cycles, trains = 900, 24
	var with, without, n float64
	for seed := range uint64(trains) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		period, high, phase := 20+(0.5+2*rnd.Float64())/cycles, 7+rnd.Float64(), rnd.Float64()
		bow := 0.02 * math.Pow(50, rnd.Float64()) * math.Copysign(1, rnd.Float64()-0.5)
		var e Edges
		for k := range cycles {
			for s := range 2 {
				x := phase + float64(k)*period + high*float64(1-s)
				u := x / (cycles * period)
				e.Index[s], e.Side[s] = append(e.Index[s], float64(k)), append(e.Side[s], math.Floor(x+bow*(6*u*u-6*u+1)))
			}
		}
		if f := Solve(&e, period, cycles-1); f != nil {
			off := (f.High - high) * (f.High - high)
			without += off / f.Row.High
			f.Hide(nil)
			with, n = with+off/f.Row.High, n+1
		}
	}
	if a, b := math.Sqrt(with/n), math.Sqrt(without/n); n < trains-4 || a > 2.6 || b < 4 {
		t.Errorf("error over uncertainty %.2f, %.2f without what %g trains may hide", a, b, n)
	}
}

// A bend is looked at from a part of a cell on, in sizes that double, short of what is asked for, and no further than where the evidence
// has gone; by the edges moved back by it. Nought asks for the least alone.
func TestSizesOfABend(t *testing.T) {
	const cycles = 60
	e := creeping(rand.New(rand.NewPCG(4, 5)), cycles, 0.02, 0)
	f := Solve(e, 20+3.3/cycles, cycles-1)
	along := f.along(softest)
	shape := func(x float64) float64 { return legendre(2, x) }
	if b := along(shape, 0); len(b) != 3 {
		t.Errorf("%d sizes where none is asked for", len(b))
	}
	least := max(f.White, softest) + 0.5/(cycles-1)
	still := f.at(max(f.White, softest))
	for _, reach := range []float64{0.1, 0.3, 5} {
		b := along(shape, reach)
		middle := slices.IndexFunc(b, func(x stray) bool { return x.size == 0 })
		for i, x := range b {
			if i == middle {
				if x != (stray{}) {
					t.Errorf("nothing moves %+v", x)
				}
				continue
			}
			steps := max(i-middle, middle-i)
			if !(math.Abs(math.Abs(x.size)/(least*math.Pow(2, float64(steps-1)))-1) <= 1e-9) || steps > 1 && math.Abs(x.size) >= reach {
				t.Errorf("reach %g: size %d is %.4f", reach, i-middle, x.size)
			}
			if last := i == 0 || i == len(b)-1; !last && x.log < -deepest || last && math.Abs(x.size)*2 < reach && x.log >= -deepest {
				t.Errorf("reach %g: the look ends at %.3f, evidence %.1f", reach, x.size, x.log)
			}
			moved := Edges{Index: e.Index}
			for s := range e.Side {
				for k, c := range e.Side[s] {
					moved.Side[s] = append(moved.Side[s], c-x.size*shape(e.Index[s][k]/(cycles-1)))
				}
			}
			p := cells{Edges: moved, cycles: cycles - 1}
			log, high, period, _ := p.solve(max(f.White, softest), f.start, f.room)
			if !(math.Abs(max(log-still.log, -beyond)-x.log) <= 0.05) || !(math.Abs(high-still.high-x.high) <= 0.002) || !(math.Abs(period-still.period-x.period) <= 0.002/cycles) {
				t.Errorf("size %.3f: %+v, of the edges moved %.3f, %.5f, %.6f", x.size, x, log-still.log, high-still.high, period-still.period)
			}
		}
	}
}
