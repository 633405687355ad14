package noise

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// sharp is a lattice that edges are rounded to whole.
var sharp = Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{1, 1}}}

// recordOf makes the record of a train from its edges, rising first.
func recordOf(edges []float64) *train.Record {
	tr := train.New(true, false)
	var e []transition.Edge
	for i, x := range edges {
		e = append(e, transition.Edge{X: x, Cell: 1, Slope: 1, Rise: i%2 == 0})
	}
	tr.Add(e)
	tr.End()
	return tr.Record()
}

// walking draws the edges of a train whose high and low times each make a random step, rounded to whole numbers if cell is set.
func walking(rnd *rand.Rand, times, steps [2]float64, white float64, cycles int, cell bool) (e []float64) {
	x := 10 * rnd.Float64()
	for i := range 2*cycles + 1 {
		at := x + white*rnd.NormFloat64()
		if cell {
			at = math.Ceil(at) - 0.5
		}
		e = append(e, at)
		x += times[i%2] + steps[i%2]*rnd.NormFloat64()
	}
	return e
}

// A walk alone leaves the mean of N times open by its step over √N. That is what is stated, on the geometric mean of six records; without
// the box that closes in on the likelihood it is 1.7 times that, and without the hypothesis that the walk is more than the white noise 1.9.
func TestWalkAlone(t *testing.T) {
	sum, n := 0.0, 0.0
	for _, cycles := range []int{30, 100, 1000} {
		for seed := range uint64(2) {
			const step = 0.5
			e := walking(rand.New(rand.NewPCG(2*seed+1, 41)), [2]float64{137, 211}, [2]float64{step, step}, 0, cycles, false)
			r, err := Estimate(recordOf(e), Known{Lattice: cell.Lattice{Cell: 0.01, Sharpness: [2]float64{1, 1}}})
			if err != nil {
				t.Fatal(err)
			}
			hh, _, _ := budget.Sum(r.Rows)
			sum, n = sum+math.Log(math.Sqrt(hh*float64(cycles))/step), n+1
			if r.Walk < 0.999 {
				t.Errorf("%d cycles: a walk has the probability %.4f", cycles, r.Walk)
			}
		}
	}
	if k := math.Exp(sum / n); !(k >= 0.8 && k <= 1.3) {
		t.Errorf("the high time is open by %.2f times what the walk leaves", k)
	}
}

// Means over n cycles: the steps between them have two thirds of the variance of steps between their middles, where the walk stands out of
// the white noise (Working, Econometrica 28, 1960), and so is that of the high times in them a part of what a single one has.
func TestStepsOfMeans(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 42))
	const groups = 4000
	for _, n := range []int{2, 8, 32} {
		var square float64
		x, last := 0.0, math.NaN()
		for range groups {
			mean := 0.0
			for range n {
				x += 0.3*rnd.NormFloat64() + 0.2*rnd.NormFloat64() // high and low time
				mean += x / float64(n)
			}
			if !math.IsNaN(last) {
				square += (mean - last) * (mean - last) / (groups - 1)
			}
			last = mean
		}
		f := float64(n)
		c := chain{dh: []float64{f}, dl: []float64{f}, n: []float64{f}}
		want := square
		if got := c.step(0, &noise{high: 0.09, low: 0.04}); !(math.Abs(got/want-1) <= 0.1+0.5/(f*f)) {
			t.Errorf("means of %d: variance of a step %.4f, drawn %.4f", n, got, want)
		}
	}
}

type ratios struct{ high, period, n float64 }

func (q *ratios) add(r *Result, high, period float64) {
	hh, _, _ := budget.Sum(r.Rows)
	e, p := r.High-high, r.High+r.Low-period
	q.high, q.period, q.n = q.high+e*e/hh, q.period+p*p/variance(r), q.n+1
}

func (q *ratios) rms() (high, period float64) {
	return math.Sqrt(q.high / q.n), math.Sqrt(q.period / q.n)
}

// Where an edge lies among the samples is known no better than noise leaves it, which breaks its rounding up: over trains of small walks
// the error of the high time is what is stated; 1.4 times that where it is not counted.
func TestSmallWalkBreaksRoundingUp(t *testing.T) {
	var q ratios
	for seed := range uint64(14) {
		rnd := rand.New(rand.NewPCG(seed, 43))
		high, low, step := 20+280*rnd.Float64(), 20+280*rnd.Float64(), 0.03+0.05*rnd.Float64()
		r, err := Estimate(recordOf(walking(rnd, [2]float64{high, low}, [2]float64{step, step}, 0, 500, true)), sharp)
		if err != nil {
			t.Fatal(err)
		}
		q.add(r, high, high+low)
	}
	if high, _ := q.rms(); !(high >= 0.6 && high <= 1.2) {
		t.Errorf("error of the high time over its stated uncertainty has root mean square %.2f", high)
	}
}

// Records too long to be kept cycle by cycle that creep past one sample or two, or do so every other period: the times rest on where their
// few slips are. The high time's error over its uncertainty, at all phases, is 1.2; 4.7 of 0.7 slips by averages of the cycles.
func TestLongTrainThatCreeps(t *testing.T) {
	for _, slips := range []float64{-0.7, 1.5, 1251.3} {
		const cycles, phases = 2500, 4
		var q ratios
		for i := range phases {
			high, period := 37.3+float64(i%3)*0.21, 91+slips/cycles
			r, err := Estimate(grid(high, period-high, float64(i)/phases+0.013, cycles), sharp)
			if err != nil {
				t.Fatal(err)
			}
			q.add(r, high, period)
		}
		if high, _ := q.rms(); !(high <= 1.8) {
			t.Errorf("%g slips: error of the high time over its stated uncertainty has root mean square %.2f", slips, high)
		}
	}
}

// A record that begins within a pulse has no rising edge to begin with; its cells are those of the others.
func TestUnpacked(t *testing.T) {
	const cycles, high, period = 2300, 7, 20
	for _, slip := range []int{0, 1, -1} {
		all := []float64{math.NaN()}
		tr := train.New(true, false)
		var e []transition.Edge
		for k := range 2 * cycles {
			x := float64(5 + k/2*period + k%2*high)
			if k/2 >= 1201 {
				x += float64(slip)
			}
			all = append(all, x)
			if k > 0 {
				e = append(e, transition.Edge{X: x, Cell: 1, Slope: 1, Rise: k%2 == 0})
			}
		}
		tr.Add(e)
		tr.End()
		r := tr.Record()
		got := unpacked(r.Cycles, r.Sample, &sharp.Lattice)
		if len(got) < cycles/3-2 {
			t.Fatalf("%d cycles", len(got))
		}
		for _, c := range got {
			if k := 1 + 2*int(c.Index); c.N != 1 || c.Rise != all[k] || c.Fall != all[k+1] {
				t.Errorf("cycle %g: %g to %g, want %g to %g", c.Index, c.Rise, c.Fall, all[k], all[k+1])
			}
		}
		for i := range r.Cycles {
			r.Cycles[i].Rise += 0.07 * float64(i)
		}
		if got := unpacked(r.Cycles, r.Sample, &sharp.Lattice); got != nil {
			t.Errorf("out of step: %+v", got[0])
		}
	}
}

// Slopes of ten amplitude steps a sample in a period of nearly a whole number of steps: the rounding of the two samples about a crossing
// recurs. Error over uncertainty of the high time is 1.2; 3.0 and 5.5, of 30 and of 100 cycles, where its lines are taken for noise.
func TestAmplitudeStepsRecur(t *testing.T) {
	for _, cycles := range []int{30, 100} {
		const steps = 10.0
		var q ratios
		for seed := range uint64(12) {
			rnd := rand.New(rand.NewPCG(seed, 44))
			high, period := 40+20*rnd.Float64(), 100+(math.Round(10*rnd.Float64())+(rnd.Float64()-0.5)*4/float64(cycles))/steps
			phase, offset := rnd.Float64(), rnd.Float64()
			var e []float64
			for k := range 2*cycles + 1 {
				x := phase + float64(k/2)*period + float64(k%2)*high
				at := func(t float64) float64 { return math.Round(steps*(t-x)+offset) - offset }
				a, b := at(math.Floor(x)), at(math.Floor(x)+1)
				e = append(e, math.Floor(x)+a/(a-b))
			}
			r, err := Estimate(recordOf(e), Known{Lattice: cell.Lattice{Cell: 1, Sharpness: [2]float64{0.2, 0.2}, Code: [2]float64{steps, steps}}})
			if err != nil {
				t.Fatal(err)
			}
			q.add(r, high, period)
		}
		if high, period := q.rms(); !(high >= 0.6 && high <= 1.7) || !(period <= 1.5) {
			t.Errorf("%d cycles: error over stated uncertainty has root mean square %.2f and %.2f", cycles, high, period)
		}
	}
}

// Hum of 50 Hz that moves the edges by a part of a cell, in a train of 3.6 kHz that creeps through its cells: they show nothing of it, and
// it moves the slips that the high time rests on. Where it is not counted the
// errors of the high time and of the period are 13 and 4 of their uncertainties.
func TestHumHidesInTheCells(t *testing.T) {
	var q ratios
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 45))
		cycles := 150 + int(350*rnd.Float64())
		high := 20 + 60*rnd.Float64()
		period := math.Round(high+20+60*rnd.Float64()) + (0.4+0.6*rnd.Float64())*4/float64(cycles)
		second := 3600 * period
		size, phase := 0.03*math.Pow(10, rnd.Float64()), 2*math.Pi*rnd.Float64()
		var e []float64
		x := rnd.Float64()
		for k := range 2*cycles + 1 {
			at := x + float64(k/2)*period + float64(k%2)*high
			e = append(e, math.Ceil(at+size*math.Sin(2*math.Pi*50*at/second+phase))-0.5)
		}
		known := sharp
		known.Second = second
		r, err := Estimate(recordOf(e), known)
		if err != nil {
			t.Fatal(err)
		}
		q.add(r, high, period)
	}
	if high, period := q.rms(); !(high <= 1.8 && period <= 1.8) {
		t.Errorf("error over stated uncertainty has root mean square %.2f and %.2f", high, period)
	}
}

// Where hum was taken off, the times are those of a fit of both: their weights leave out whatever has the form of the hum. Weights of the
// fit without it take in as much of it as the hum itself.
func TestTimesBesideHum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 46))
	const high, low, second = 40.3, 57.9, 3600 * 98.2
	var e []float64
	for k := range 401 {
		at := float64(k/2)*(high+low) + float64(k%2)*high
		e = append(e, at+3*math.Sin(2*math.Pi*50*at/second)+0.1*rnd.NormFloat64())
	}
	record := recordOf(e)
	m := &model{lattice: &cell.Lattice{}, c: newChain(record.Cycles, 1), sample: newChain(record.Sample, 1)}
	m.fit()
	before := m.ways[0].high
	h := m.hum(second, &fit.Slow{})
	if h == nil {
		t.Fatal("no hum is found")
	}
	for _, w := range m.ways {
		for k := range 4 {
			var inside, size, without, z [humColumns]float64
			for i := range w.high {
				h.columns(m.c, i, &z)
				inside[k] += w.high[i] * z[k]
				without[k] += before[i] * z[k]
				size[k] += math.Abs(w.high[i] * z[k])
			}
			if !(math.Abs(inside[k]) <= 1e-3*size[k]) {
				t.Errorf("unknown %d of the hum moves the high time by %.3g of itself, %.3g in a fit without hum", k, inside[k], without[k])
			}
		}
	}
}

// What is unpacked from means is what went into them, cycle by cycle: trains that keep in step, creep forward or back by some cells, in cells of
// any width, in means of odd and even numbers. Out of step, broken, or off the grid, they are left as they are.
func TestUnpackedIsWhatWasPacked(t *testing.T) {
	for _, c := range []struct {
		cycles, n, single int     // kept singly at the end
		drift, off        float64 // cells a cycle; and of the last mean, which says nothing of the train
		told              bool
	}{
		{48, 4, 0, 0, 0, true}, {48, 4, 0, 0.13, 0, true}, {48, 4, 0, -0.13, 0, true}, {2400, 5, 0, 3. / 2400, 0, true}, {2400, 4, 0, -6.5 / 2400, 0, true},
		{5000, 8, 0, 2. / 5000, 0, true}, {48, 4, 1, 0.1, 0, true}, {48, 4, 0, 0, 0.2, true},
		{48, 4, 0, 0, 0.3, false}, {48, 4, 0, 0.21, 0, false}, {28, 4, 0, 0.24, 0, false}, {48, 1, 0, 0.1, 0, false},
	} {
		for _, cell := range []float64{1, 0.125} {
			at := func(x float64, k int) float64 { return cell * math.Floor(x+(20+c.drift)*float64(k)) }
			var cycles, singly []train.Cycle
			for from := 0; from < c.cycles; from += c.n {
				mean := train.Cycle{Index: float64(from) + float64(c.n-1)/2, N: c.n, Start: from == 0}
				for k := from; k < from+c.n; k++ {
					mean.Rise, mean.Fall = mean.Rise+at(5.3, k)/float64(c.n), mean.Fall+at(12.7, k)/float64(c.n)
					singly = append(singly, train.Cycle{Rise: at(5.3, k), Fall: at(12.7, k), Index: float64(k), N: 1, Start: k == 0})
				}
				cycles = append(cycles, mean)
			}
			for k := range c.single {
				k += c.cycles
				cycles = append(cycles, train.Cycle{Rise: at(5.3, k), Fall: at(12.7, k), Index: float64(k), N: 1})
			}
			cycles[len(cycles)/2].Fall += c.off * cell / float64(c.n)
			l := sharp.Lattice
			l.Cell = cell
			got := unpacked(cycles, singly, &l)
			if (got != nil) != c.told {
				t.Errorf("%+v: %d cycles unpacked", c, len(got))
				continue
			}
			for i, u := range got {
				k := int(u.Index)
				if u.Rise != at(5.3, k) || u.Fall != at(12.7, k) || u.N != 1 || u.Start != (i == 0) || i > 0 && (k-int(got[i-1].Index) != int(got[1].Index) || int(got[1].Index)%2 == 0) {
					t.Fatalf("%+v: cycle %d is %+v, want %g and %g", c, i, u, at(5.3, k), at(12.7, k))
				}
			}
			if n := len(got); c.told && (n > c.cycles+c.single || n < min(c.cycles, manyOfIt*3/4) || n > 2*manyOfIt) {
				t.Errorf("%+v: %d cycles", c, n)
			}
			for _, spoil := range []func(c *train.Cycle){func(c *train.Cycle) { c.Start = true }, func(c *train.Cycle) { c.Rise = math.NaN() }, func(c *train.Cycle) { c.Fall = math.NaN() }} {
				broken := slices.Clone(cycles)
				spoil(&broken[3])
				if got := unpacked(broken, singly, &l); got != nil {
					t.Errorf("%+v, broken: %d cycles", c, len(got))
				}
			}
		}
	}
}
