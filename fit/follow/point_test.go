package follow

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/transition"
)

// pulses are n cycles of 4 ms and 3 ms with jitter of the edges, as a point gathers them.
func pulses(rnd *rand.Rand, n int, jitter float64) (c cycles) {
	last := 0.0
	for i := range 2 * n {
		next := jitter * rnd.NormFloat64()
		c.add(i%2 == 0, []float64{4e-3, 3e-3}[i%2]+next-last)
		last = next
	}
	return c
}

// The mean of pulses, against plain sums: of n that scatter by s it is known to s/√n, as Student's distribution spreads that; of pulses all
// alike, to what the rounding of both edges may have in common; of pulses that jitter by half a quantum, with a hundredth of that.
func TestMeanOfPulses(t *testing.T) {
	v := []float64{1.01, 1.04, 0.98, 1.02, 0.95, 1.06}
	got := mean(v, 0)
	want := math.Sqrt(0.0016 * 5 / 3 / 6) // Σ d² = 0.008 over 5; variance of Student's distribution with 5 degrees of freedom
	if !(math.Abs(got.Value-1.01) <= 1e-12) || !(math.Abs(got.Uncertainty/want-1) <= 1e-6) || got.Count != 6 {
		t.Errorf("%+v, want 1.01 ± %.5f", got, want)
	}
	const q = 0.1
	same := mean([]float64{1, 1, 1, 1, 1}, q)
	if want := math.Sqrt(q*q/6/5*4/2 + q*q/6); !(math.Abs(same.Uncertainty/want-1) <= 1e-12) {
		t.Errorf("all alike: to %.5f, want %.5f", same.Uncertainty, want)
	}
	if u := mean([]float64{1, 1, 1, 1, 1}, 0).Uncertainty; u != 0 {
		t.Errorf("all alike, no steps: to %g", u)
	}
	var loose []float64
	for i := range 1000 {
		loose = append(loose, 1+math.Sqrt(q*q/4+q*q/6)*math.Sqrt(999.0/1000)*[]float64{-1, 1}[i%2])
	}
	if want := math.Sqrt((q*q/4+q*q/6)*999/997/1000 + q*q/6*math.Exp(-math.Pi*math.Pi/2)); !(math.Abs(mean(loose, q).Uncertainty/want-1) <= 1e-3) {
		t.Errorf("jitter of half a quantum: to %.6f, want %.6f", mean(loose, q).Uncertainty, want)
	}
}

// The two times of a point and their covariance make the period as uncertain as its noise does, by the sum of its pulses; rounding of the
// ends of a stretch counts at least; and the times differ by no more than that.
func TestPeriodOfAPoint(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 4))
		quantum := []float64{0, 1e-6, 1e-4}[seed%3]
		c := pulses(rnd, 20, 1e-6)
		p, ok := c.point(quantum)
		if !ok || p.Cycles != 20 || p.stretches != 1 {
			t.Fatalf("%+v", p)
		}
		square := func(e fit.Estimate) float64 { return e.Uncertainty * e.Uncertainty }
		want := max(p.noise.sum(1), quantum*quantum/6) / 400
		if got := square(p.High) + square(p.Low) + 2*p.Covariance; !(math.Abs(got/want-1) <= 1e-6) && math.Abs(p.Covariance) < 0.999999*p.High.Uncertainty*p.Low.Uncertainty {
			t.Errorf("seed %d: variance of the period %.4g, of its pulses %.4g", seed, got, want)
		}
		if d := math.Abs(p.High.Uncertainty - p.Low.Uncertainty); d > math.Sqrt(want) {
			t.Errorf("seed %d: the times' uncertainties differ by %.4g, the period's is %.4g", seed, d, math.Sqrt(want))
		}
		if sum, own := p.High.Uncertainty+p.Low.Uncertainty, mean(c.width[1], quantum).Uncertainty+mean(c.width[0], quantum).Uncertainty; !(math.Abs(sum/own-1) <= 1e-9) {
			t.Errorf("seed %d: the times are known to %.4g together, by their scatter to %.4g", seed, sum, own)
		}
		apart := mean(c.width[1], quantum).Uncertainty - mean(c.width[0], quantum).Uncertainty
		if d := p.High.Uncertainty - p.Low.Uncertainty; !(math.Abs(d-min(max(apart, -math.Sqrt(want)), math.Sqrt(want))) <= 1e-6*math.Sqrt(want)) {
			t.Errorf("seed %d: the times' uncertainties differ by %.4g, by their scatter %.4g, at most %.4g", seed, d, apart, math.Sqrt(want))
		}
	}
}

// Where the pulses' sum wanders by more than the two times scatter, they are stated to go together, and by no more than that.
func TestTimesGoTogetherAtMost(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 5))
	at, s := 0.0, span{}
	for i := range 40 {
		at += 1e-6 * rnd.NormFloat64()
		s.width, s.level = append(s.width, at), append(s.level, i%2)
	}
	p := Point{Cycles: 20, stretches: 1}
	p.High.Uncertainty, p.Low.Uncertainty = 3e-8, 5e-8
	p.setNoise(newNoise([]span{s}))
	if limit := p.High.Uncertainty * p.Low.Uncertainty; !(math.Abs(p.Covariance/limit-1) <= 1e-9) {
		t.Errorf("covariance %g, want %g", p.Covariance, limit)
	}
}

// Pulses of a second say of a nanosecond's jitter what pulses of a microsecond do.
func TestJitterOfLongPulses(t *testing.T) {
	var want float64
	for _, long := range []float64{1e-6, 1} {
		rnd, c := rand.New(rand.NewPCG(6, 5)), cycles{}
		at, edge := 0.0, 0.0
		for i := range 40 {
			at = 1e-9 * rnd.NormFloat64()
			c.order = append(c.order, pulse{width: (0.3+0.2*float64(i%2))*long + at - edge, level: i % 2})
			c.width[i%2] = append(c.width[i%2], c.order[i].width)
			edge = at
		}
		p, ok := c.point(0)
		if !ok || p.noise == nil {
			t.Fatalf("pulses of %g s: %+v", long, p)
		}
		sum := p.noise.sum(1)
		if want == 0 {
			want = sum
		}
		if !(math.Abs(sum/want-1) <= 1e-3) || !(sum < 1e-16) {
			t.Errorf("pulses of %g s: the variance of their sum is %g, want %g", long, sum, want)
		}
	}
}

// Points that have kept their few pulses are joined to what one point of all their pulses says, across a gap as two stretches; points of
// many are averaged.
func TestJoinedIsOne(t *testing.T) {
	for _, gap := range []bool{false, true} {
		rnd := rand.New(rand.NewPCG(9, 4))
		var all cycles
		var ps []Point
		for k := range 4 {
			c := pulses(rnd, 12, 1e-6)
			for i, w := range c.order {
				if gap && k == 2 && i == 0 {
					all.split()
				}
				all.add(w.level == 1, w.width)
			}
			p, _ := c.point(1e-6)
			p.Begin, p.End = float64(k), float64(k+1)
			if gap && k == 2 {
				p.Begin += 0.5
			}
			ps = append(ps, p)
		}
		want, _ := all.point(1e-6)
		got := Join(ps)
		if got.High != want.High || got.Low != want.Low || got.Covariance != want.Covariance || got.Cycles != 48 || got.Begin != 0 || got.End != 4 || got.stretches != want.stretches {
			t.Errorf("gap %v: joined %+v, of all pulses %+v", gap, got, want)
		}
		if got.Time() != 2 || ps[3].Time() != 3.5 {
			t.Errorf("middles at %g and %g, want 2 and 3.5", got.Time(), ps[3].Time())
		}
		if gap != (got.stretches == 2) {
			t.Errorf("gap %v: %d stretches", gap, got.stretches)
		}
		// The same without the pulses: weighted means, and the noise of all of them over the stretches that they make.
		sum := &noise{}
		for i := range ps {
			ps[i].order = nil
			sum.add(ps[i].noise)
		}
		far := Join(ps)
		variance := 0.0
		for _, p := range ps {
			variance += (p.High.Uncertainty*p.High.Uncertainty + p.Low.Uncertainty*p.Low.Uncertainty) / 16
		}
		u := sum.sum(got.stretches) / (48 * 48)
		if v := far.High.Uncertainty*far.High.Uncertainty + far.Low.Uncertainty*far.Low.Uncertainty + 2*far.Covariance; !(math.Abs(v/u-1) <= 1e-6) || far.Cycles != 48 || far.stretches != got.stretches {
			t.Errorf("gap %v: variance of the period %.4g, of all noise %.4g; %+v", gap, v, u, far)
		}
	}
}

// Pulses that are missing, or odd, begin another stretch; one that is odd is in none.
func TestStretches(t *testing.T) {
	c := pulses(rand.New(rand.NewPCG(2, 4)), 20, 1e-6)
	c.order[10].first = true
	c.order[21].width *= 1.31
	c.width[0][10] *= 1.31
	p, ok := c.point(0)
	if !ok || p.stretches != 3 || p.odd != 1 || p.High.Count != 20 || p.Low.Count != 19 || p.Cycles != 19 || p.noise.pulses != 39 {
		t.Errorf("%+v", p)
	}
	// Coarse steps: the two ends of each of three stretches are rounded, each by a step over the root of twelve.
	if p, _ := c.point(1e-4); !(math.Abs(p.High.Uncertainty*p.High.Uncertainty+p.Low.Uncertainty*p.Low.Uncertainty+2*p.Covariance-3*1e-8/6/(19*19)) <= 1e-13) {
		t.Errorf("of coarse steps %+v", p)
	}
	// A pulse that is just so far off belongs to the train; pulses all alike show no noise.
	var even cycles
	for i := range 20 {
		even.add(i%2 == 0, []float64{10, 20}[i%2])
	}
	if p, ok := even.point(1e-3); !ok || p.noise != nil || p.Covariance != 0 || !(p.High.Uncertainty < 1e-3) {
		t.Errorf("pulses all alike: %+v", p)
	}
	even.add(true, 13)
	even.add(false, 14)
	if p, _ := even.point(0); p.odd != 0 || p.High.Count != 11 || p.stretches != 1 || p.noise.pulses != 22 {
		t.Errorf("pulses three tenths from the median: %+v", p)
	}
	few := pulses(rand.New(rand.NewPCG(2, 4)), fewCycles, 1e-6)
	if p, ok := few.point(0); !ok || p.Cycles != fewCycles {
		t.Errorf("%d cycles: %+v, %v", fewCycles, p, ok)
	}
	fewer := pulses(rand.New(rand.NewPCG(2, 4)), fewCycles-1, 1e-6)
	if p, ok := fewer.point(0); ok {
		t.Errorf("%d cycles make %+v", fewCycles-1, p)
	}
}

// Rows without times lie on the capture's grid.
func TestRowsOnAGrid(t *testing.T) {
	const start, step = 0.25, 1e-4
	var v, times []float64
	for i := range 60_000 {
		v, times = append(v, []float64{0, 1}[(i/40)%2]), append(times, start+step*float64(i))
	}
	add := func(f *Follower, timed bool) {
		c := acquire.NewCapture(acquire.Capture{Kind: acquire.Logic, Start: start, Step: step}, nil)
		for i := 0; i < len(v); i += 1000 {
			b := acquire.Block{First: int64(i), N: 1000, Value: [][]float64{v[i : i+1000]}}
			if timed {
				b.Time = times[i : i+1000]
			}
			f.Add(c, &b)
		}
	}
	grid, timed := New(Options{}), New(Options{})
	add(grid, false)
	add(timed, true)
	a, b := grid.Points(), timed.Points()
	if len(a) < 4 || len(a) != len(b) {
		t.Fatalf("%d points on a grid, %d with times", len(a), len(b))
	}
	for i := range a {
		if !(math.Abs(a[i].Begin-b[i].Begin) <= 1e-9) || !(math.Abs(a[i].High.Value-40*step) <= 1e-9) || !(math.Abs(a[i].Low.Value-40*step) <= 1e-9) {
			t.Errorf("point %d: %+v, with times %+v", i, a[i], b[i])
		}
	}
}

// The levels are looked for as soon as a window of samples is there, and no sooner; a window without any is let go.
func TestWindowForLevels(t *testing.T) {
	c := acquire.NewCapture(acquire.Capture{Kind: acquire.Samples, Step: 1}, nil)
	for _, still := range []int{0, levelWindow} {
		f := New(Options{})
		for i := range still + levelWindow {
			v := float64(i / 10 % 2)
			if i < still {
				v = 0
			}
			if f.held || len(f.v) != i%levelWindow {
				t.Fatalf("%d samples of %d: %d are kept, levels known: %v", i, levelWindow, len(f.v), f.held)
			}
			f.Add(c, &acquire.Block{First: int64(i), N: 1, Value: [][]float64{{v}}})
		}
		if !f.held || f.v != nil {
			t.Errorf("after %d still samples the levels are not known", still)
		}
	}
}

// The high pulses that have ended are handed over once, numbered through, with a start behind what is not known.
func TestCyclesAreHandedOver(t *testing.T) {
	var tt, v []float64
	for i := range 40 {
		tt, v = append(tt, float64(i)), append(v, []float64{1, 0}[i%2])
	}
	v[21] = math.NaN()
	f := follow(t, capture(acquire.Transitions, 0, tt, v, 7), Options{})
	got := f.Cycles()
	for i, c := range got {
		if c.Index != float64(i) || c.Fall != c.Rise+1 || c.Start != (i == 0 || c.Rise == 24) {
			t.Errorf("cycle %d: %+v", i, c)
		}
	}
	if len(got) != 17 || f.Cycles() != nil {
		t.Errorf("%d cycles", len(got))
	}
}

// A point is complete after its span with its cycles, after ten spans with four of them, and with as many as it may hold, each to the
// instant; the latest points are those within a span, its ends included.
func TestDueToTheInstant(t *testing.T) {
	for _, c := range []struct {
		cycles int
		at     float64
		want   bool
	}{{8, 1, true}, {8, 0.999, false}, {7, 1, false}, {4, 10, true}, {4, 9.999, false}, {3, 10, false}, {maxCycles, 0.001, true}, {maxCycles - 1, 0.001, false}} {
		f := New(Options{})
		f.begin = 0
		for range c.cycles {
			f.cycle.add(true, 1e-3)
			f.cycle.add(false, 1e-3)
		}
		if f.due(c.at) != c.want {
			t.Errorf("%d cycles after %g s: %v", c.cycles, c.at, !c.want)
		}
	}
	f := New(Options{})
	for i := range 4 {
		p := Point{Begin: float64(i), End: float64(i + 1), Cycles: 1}
		p.High.Count, p.Low.Count = 1, 1
		f.run.points = append(f.run.points, p)
	}
	for span, want := range map[float64]int{0.5: 1, 1: 1, 2: 2, 2.5: 2, 3: 3, 9: 4} {
		if m := f.Latest(span); m.Cycles != want {
			t.Errorf("the latest %g s hold %d points, want %d", span, m.Cycles, want)
		}
	}
	for i := range 2 * (keptCycles + 5) {
		f.edge(transition.Edge{X: float64(i), Rise: i%2 == 0})
	}
	if n := len(f.Cycles()); n != keptCycles {
		t.Errorf("%d cycles are kept, want %d", n, keptCycles)
	}
}
