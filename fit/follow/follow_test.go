package follow

import (
	"io"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"offbeat/acquire"
)

// signal draws edges of a pulse train: true times plus white jitter, rounded to a quantum. Nothing here is
// taken from the code under test.
type signal struct {
	high, low float64 // s
	jitter    float64 // s, standard deviation of one edge
	quantum   float64 // s; 0: none
	cycles    int
}

func (c signal) rows(rng *rand.Rand) (t, v []float64) {
	at := rng.Float64() * (c.high + c.low)
	for i := range 2*c.cycles + 1 {
		x := at + c.jitter*rng.NormFloat64()
		if c.quantum > 0 {
			x = math.Round(x/c.quantum) * c.quantum
		}
		t, v = append(t, x), append(v, float64(1-i&1))
		if i&1 == 0 {
			at += c.high
		} else {
			at += c.low
		}
	}
	return t, v
}

// capture hands out rows in blocks of n.
func capture(kind acquire.Kind, quantum float64, t, v []float64, n int) *acquire.Capture {
	i := 0
	return acquire.NewCapture(acquire.Capture{Kind: kind, Step: quantum, TimeResolution: quantum}, func(b *acquire.Block) error {
		b.N = 0
		if i == len(t) {
			return io.EOF
		}
		k := min(n, len(t)-i)
		b.First, b.N, b.Time, b.Value = int64(i), k, t[i:i+k], [][]float64{v[i : i+k]}
		i += k
		return nil
	})
}

// follow reads a capture to its end.
func follow(tb testing.TB, c *acquire.Capture, o Options) *Follower {
	tb.Helper()
	f := New(o)
	w := c.Watched(func(b *acquire.Block) { f.Add(c, b) })
	var b acquire.Block
	for {
		if err := w.Read(&b); err == io.EOF {
			return f
		} else if err != nil {
			tb.Fatal(err)
		}
	}
}

// TestHonest: over many trains the error of a point over its stated uncertainty has a root mean square near 1.
// 600 points give it a standard deviation of 0.03. Where the jitter is below the quantum the rounding is
// taken as not averaged out at all, which is the worst case: then it may be as low as the phases happen to be.
func TestHonest(t *testing.T) {
	for _, c := range []struct {
		name string
		signal
		least float64
	}{
		{"jitter above the quantum", signal{4.0137e-3, 3.2291e-3, 3e-6, 1e-6, 40}, 0.9},
		{"jitter alone", signal{4.0137e-3, 3.2291e-3, 3e-6, 0, 40}, 0.9},
		{"jitter as large as the quantum", signal{4.0137e-3, 3.2291e-3, 4e-6, 4e-6, 40}, 0.9},
		{"quantum alone", signal{4.0137e-3, 3.2291e-3, 0, 4e-6, 40}, 0},
		{"quantum alone, whole quanta", signal{4.0e-3, 3.2e-3, 0, 4e-6, 40}, 0},
		{"little jitter", signal{4.0137e-3, 3.2291e-3, 0.5e-6, 4e-6, 40}, 0},
		{"few cycles", signal{0.401, 0.323, 3e-5, 1e-6, 8}, 0.8},
	} {
		rng := rand.New(rand.NewPCG(6, 1))
		var square [3]float64
		n := 0.0
		for range 600 {
			tt, v := c.rows(rng)
			f := follow(t, capture(acquire.Transitions, c.quantum, tt, v, 7), Options{Span: 0.2})
			for _, p := range f.Points() {
				m := p.Measurement()
				e := [3]float64{(p.High.Value - c.high) / p.High.Uncertainty, (p.Low.Value - c.low) / p.Low.Uncertainty,
					(m.Period().Value - c.high - c.low) / m.Period().Uncertainty}
				for i := range e {
					square[i] += e[i] * e[i]
				}
				n++
				break
			}
		}
		if n < 600 {
			t.Fatalf("%s: only %g trains gave a point", c.name, n)
		}
		for i, name := range []string{"high time", "low time", "period"} {
			rms := math.Sqrt(square[i] / n)
			t.Logf("%s, %s: error over uncertainty %.3f", c.name, name, rms)
			// The edges between cycles cancel in the period, which its uncertainty does not count on.
			least := c.least
			if i == 2 {
				least = 0
			}
			if rms < least || rms > 1.12 {
				t.Errorf("%s, %s: error over uncertainty %.3f", c.name, name, rms)
			}
		}
	}
}

// TestRoundingInStep: where the period is a whole number of quanta each pulse is rounded alike, and the mean of many is
// no better than one. The high time is drawn anew for each train, so that the root mean square is 1 without
// jitter; with some it may be less, since then the scatter of the rounding counts as if it were jitter.
func TestRoundingInStep(t *testing.T) {
	const q = 4e-6
	for _, c := range []struct{ jitter, least float64 }{{0, 0.9}, {0.3e-6, 0.6}, {1e-6, 0.4}, {2e-6, 0.5}} {
		rng := rand.New(rand.NewPCG(8, 2))
		square := 0.0
		const runs = 800
		for range runs {
			high := 4e-3 + q*rng.Float64()
			tt, v := signal{high, 1800*q - high, c.jitter, q, 40}.rows(rng)
			p := follow(t, capture(acquire.Transitions, q, tt, v, 100), Options{Span: 0.2}).Points()[0]
			e := (p.High.Value - high) / p.High.Uncertainty
			square += e * e / runs
		}
		rms := math.Sqrt(square)
		t.Logf("jitter %g: error over uncertainty %.3f", c.jitter, rms)
		if rms < c.least || rms > 1.12 {
			t.Errorf("jitter %g: error over uncertainty %.3f", c.jitter, rms)
		}
	}
}

// A pulse of each kind is wrong; what is left says the same as without.
func TestOddPulses(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	c := signal{4e-3, 3e-3, 2e-6, 0, 400}
	tt, v := c.rows(rng)
	// An edge pair is missing at 100, and rows 300 to 302 tell of a stretch not known.
	tt, v = append(tt[:100], tt[102:]...), append(v[:100], v[102:]...)
	v[301] = math.NaN()
	f := follow(t, capture(acquire.Transitions, 0, tt, v, 64), Options{Span: 0.5})
	if f.Odd() != 1 {
		t.Errorf("%d odd pulses, want 1", f.Odd())
	}
	for _, p := range f.Points() {
		if !(math.Abs(p.High.Value-4e-3) <= 5*p.High.Uncertainty) || !(math.Abs(p.Low.Value-3e-3) <= 5*p.Low.Uncertainty) {
			t.Errorf("point %+v", p)
		}
	}
}

// Readings of a converter are followed as edges are: the levels are found, the crossings interpolated.
func TestReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	var tt, v []float64
	for i := range 40_000 { // 50 us apart: 2 s of a wave of 4 ms and 3 ms with edges of 200 us
		x := float64(i) * 50e-6
		phase := math.Mod(x, 7e-3)
		level := math.Min(1, phase/200e-6)
		if phase > 4e-3 {
			level = math.Max(0, 1-(phase-4e-3)/200e-6)
		}
		tt, v = append(tt, x), append(v, math.Round(10+1000*level+3*rng.NormFloat64()))
	}
	f := follow(t, capture(acquire.Samples, 0, tt, v, 500), Options{Span: 0.5})
	if len(f.Points()) < 3 {
		t.Fatalf("%d points", len(f.Points()))
	}
	for _, p := range f.Points() {
		if !(math.Abs(p.High.Value-4e-3) <= 1e-6) || !(math.Abs(p.Low.Value-3e-3) <= 1e-6) {
			t.Errorf("point %+v", p)
		}
	}
}

// A block without the channel, or without rows, completes nothing.
func TestChannelThatIsNotThere(t *testing.T) {
	c := acquire.NewCapture(acquire.Capture{Kind: acquire.Samples, Step: 1}, nil)
	for _, b := range []*acquire.Block{{N: 2, Value: [][]float64{{0, 1}}}, {Value: [][]float64{{}, {}}}} {
		if f := New(Options{Channel: 1}); f.Add(c, b) != 0 || len(f.v) > 0 {
			t.Errorf("%d rows of %d channels: %d samples are held", b.N, len(b.Value), len(f.v))
		}
	}
}

// TestBounded: hours of points are kept in bounded memory, and joining keeps means and counts.
func TestBounded(t *testing.T) {
	var r Run
	const n = 50_000
	var sum, count float64
	for i := range n {
		p := Point{Begin: float64(i), End: float64(i + 1), Cycles: 10}
		p.High.Value, p.High.Uncertainty, p.High.Count = 1+float64(i)/n, 0.1, 10+i%3
		p.Low = p.High
		sum += p.High.Value * float64(p.High.Count)
		count += float64(p.High.Count)
		r.add(p)
		if len(r.points) >= maxPoints+64 || cap(r.points) > 4*maxPoints {
			t.Fatalf("%d points kept in room for %d", len(r.points), cap(r.points))
		}
	}
	all := Join(r.points)
	if all.Begin != 0 || all.End != n || all.High.Count != int(count) || all.Cycles != 10*n {
		t.Errorf("joined: %+v", all)
	}
	// Sums of 50 000 terms round to parts in 1e12. Of independent points of 0.1 the mean has 0.1/√n, the
	// weights 10, 11, 12 raise it by less than 1 %.
	if !(math.Abs(all.High.Value/(sum/count)-1) <= 1e-11) || !(math.Abs(all.High.Uncertainty/(0.1/math.Sqrt(n))-1) <= 0.01) {
		t.Errorf("mean %.15g ± %g, want %.15g ± %g", all.High.Value, all.High.Uncertainty, sum/count, 0.1/math.Sqrt(n))
	}
	for i := 1; i < len(r.points); i++ {
		if r.points[i].Begin != r.points[i-1].End {
			t.Fatalf("a hole between %g and %g", r.points[i-1].End, r.points[i].Begin)
		}
	}
	// 50 000 in at most 4096 evenly: 16 in one, the latest by themselves.
	if first, last := r.points[0], r.points[len(r.points)-1]; first.End-first.Begin != 16 || last.End != n {
		t.Errorf("first point %g s long, last one ends at %g s", first.End-first.Begin, last.End)
	}
}

// A single pulse at any time: the high times make the points, the low times are what the triggers left.
func TestSinglePulse(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var tt, v []float64
	at := 0.0
	for range 40 {
		at += 0.1 + rng.ExpFloat64()
		tt, v = append(tt, at, at+0.25+1e-5*rng.NormFloat64()), append(v, 1, 0)
		at += 0.25
	}
	f := follow(t, capture(acquire.Transitions, 0, tt, v, 9), Options{Single: true})
	ps := f.Points()
	if len(ps) < 3 || f.Odd() != 0 {
		t.Fatalf("%d points, %d odd", len(ps), f.Odd())
	}
	for _, p := range append(ps[:len(ps):len(ps)], Join(ps)) {
		if !(math.Abs(p.High.Value-0.25) <= 4*p.High.Uncertainty) || p.Low.Count != 0 || p.Low.Value != 0 || p.Cycles != p.High.Count {
			t.Errorf("%+v", p)
		}
	}
}

func TestLatest(t *testing.T) {
	f := New(Options{})
	if f.Latest(10) != nil {
		t.Error("something of nothing")
	}
	rng := rand.New(rand.NewPCG(3, 1))
	tt, v := signal{0.04, 0.03, 1e-6, 0, 200}.rows(rng) // 14 s
	f = follow(t, capture(acquire.Transitions, 0, tt, v, 100), Options{})
	for _, c := range []struct {
		span float64
		want int // points
	}{{0.1, 1}, {1e9, len(f.Points())}} {
		ps := f.Points()
		want := Join(ps[len(ps)-c.want:]).Measurement()
		if got := f.Latest(c.span); got.High != want.High || got.Cycles != want.Cycles {
			t.Errorf("the last %g s: %+v, want %+v", c.span, got, want)
		}
	}
	// The rest of a train that does not fill a point is not in one.
	if _, high, low := f.Now(); !(math.Abs(high-0.04) <= 1e-5) || !(math.Abs(low-0.03) <= 1e-5) {
		t.Errorf("last pulses %g and %g", high, low)
	}
}

// BenchmarkAdd follows the edges of a 138 Hz timer.
func BenchmarkAdd(b *testing.B) {
	tt, v := signal{4e-3, 3.2e-3, 3e-6, 1e-6, 50_000}.rows(rand.New(rand.NewPCG(1, 1)))
	b.ReportAllocs()
	for b.Loop() {
		follow(b, capture(acquire.Transitions, 1e-6, tt, v, 100), Options{})
	}
	b.ReportMetric(float64(len(tt)*b.N)/b.Elapsed().Seconds(), "edges/s")
}

// TestPeriodHonest: the mean period errs as it says within 1.5 times, whether the edges jitter each for itself, the lengths of
// the pulses wander, both do, or the period drifts besides, be it of eight cycles alone.
func TestPeriodHonest(t *testing.T) {
	for _, c := range []noisy{
		{"jitter", 3e-6, 0, 0},
		{"a little walk", 3e-6, 0.5e-6, 0},
		{"half walk", 3e-6, 3e-6, 0},
		{"walk", 0, 3e-6, 0},
		{"jitter and drift", 3e-6, 0, 1e-6},
	} {
		for _, cycles := range []int{8, 100} {
			rng := rand.New(rand.NewPCG(4, uint64(cycles)))
			runs := 1600 / float64(cycles)
			var square [2]float64
			for range int(runs) {
				square1, square5 := c.errors(t, rng, cycles)
				square[0] += square1 / runs
				square[1] += square5 / runs
			}
			for k, what := range []string{"one point", "five points"} {
				rms := math.Sqrt(square[k])
				t.Logf("%s, %d cycles, %s: error over uncertainty %.3f", c.name, cycles, what, rms)
				if least := 1 / 1.5; rms < least || rms > 1.5 {
					t.Errorf("%s, %d cycles, %s: error over uncertainty %.3f", c.name, cycles, what, rms)
				}
			}
		}
	}
}

// noisy is a train of 4 ms and 3.2 ms with noise of each kind.
type noisy struct {
	name         string
	jitter, walk float64 // s, of an edge and of a pulse's length
	drift        float64 // relative, from a pulse to the next
}

// errors draws a train and gives the squares of the errors of the mean period over their uncertainty: of the first point of so
// many cycles, and of the first five. The truth is the mean of the lengths without noise between the same edges.
func (c noisy) errors(t *testing.T, rng *rand.Rand, cycles int) (one, five float64) {
	widths := [2]float64{4.0137e-3, 3.2291e-3}
	at, clean := rng.Float64()*7e-3, 0.0
	var tt, v []float64
	sums := []float64{0}
	for i := range 2*5*cycles + 3 {
		tt, v = append(tt, at+c.jitter*rng.NormFloat64()), append(v, float64(1-i&1))
		w := widths[i&1] * (1 + c.drift*float64(i))
		at += w + c.walk*rng.NormFloat64()
		clean += w
		sums = append(sums, clean)
	}
	f := follow(t, capture(acquire.Transitions, 0, tt, v, 100), Options{Span: float64(cycles) * 7.2428e-3 * 0.999, Cycles: cycles})
	square := func(p Point) float64 {
		from, to := sort.SearchFloat64s(tt, p.Begin), sort.SearchFloat64s(tt, p.End)
		m := p.Measurement().Period()
		e := (m.Value - (sums[to]-sums[from])/float64(to-from)*2) / m.Uncertainty
		return e * e
	}
	ps := f.Points()
	return square(ps[0]), square(Join(ps[:min(5, len(ps))]))
}
