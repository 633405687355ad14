package transition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func finder(reference, hysteresis, amplitude float64) *Finder {
	f := new(Finder)
	f.Set(reference, hysteresis, amplitude)
	return f
}

func positions(e []Edge) (x []float64) {
	for _, k := range e {
		x = append(x, k.X)
	}
	return x
}

func TestEdges(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name  string
		v     []float64
		x     []float64
		runts int
	}{
		{"one sample on the slope", []float64{0, 0, 2, 10, 10, 8, 0, 0}, []float64{2.375, 5.375}, 0},
		{"no sample on the slope", []float64{0, 0, 10, 10, 0}, []float64{1.5, 3.5}, 0},
		{"a sample at the reference", []float64{0, 5, 10, 5, 0}, []float64{1, 3}, 0},
		{"equal samples in the band", []float64{0, 4.5, 4.5, 5.5, 5.5, 10, 10, 0}, []float64{2.5, 6.5}, 0},
		{"three crossings count once", []float64{0, 4.5, 5.5, 4.5, 5.5, 10, 10, 0}, []float64{2.5, 6.5}, 0},
		{"runt from low", []float64{0, 5.5, 0, 0, 10, 10}, []float64{3.5}, 1},
		{"runt from high", []float64{10, 10, 4.5, 10, 0}, []float64{3.5}, 1},
		{"into the band and back is nothing", []float64{0, 4.5, 0, 0, 10}, []float64{3.5}, 0},
		{"starts in the band", []float64{5, 5, 10, 0}, []float64{2.5}, 0},
		{"clipped: half way between", []float64{0, 0, inf, inf, -inf, 0}, []float64{1.5, 3.5}, 0},
		{"few unknown in a state", []float64{0, 10, nan, nan, nan, nan, 10, 0}, []float64{0.5, 6.5}, 0},
		{"more unknown break", []float64{0, 10, nan, nan, nan, nan, nan, 10, 0}, []float64{0.5, 6, 7.5}, 0},
		{"one unknown on an edge", []float64{0, nan, 10, 10, 0}, []float64{1, 3.5}, 0},
		{"two unknown on an edge break", []float64{0, nan, nan, 10, 10, 0}, []float64{3, 4.5}, 0},
		{"unknown at once", []float64{nan, nan, 0, 10}, []float64{2.5}, 0},
	} {
		f := finder(5, 2, 10)
		e := f.Scan(0, nil, c.v, nil)
		if !slices.Equal(positions(e), c.x) || f.Runts != c.runts {
			t.Errorf("%s: edges at %v, %d runts; want %v, %d", c.name, positions(e), f.Runts, c.x, c.runts)
		}
	}
}

func TestTransitionListHolds(t *testing.T) {
	f := finder(0.5, 0, 1)
	f.Hold = true
	e := f.Scan(0, []float64{-1, 0.25, 0.5, 0.75, 2}, []float64{0, 1, 1, 0, 1}, nil)
	if want := []float64{0.25, 0.75, 2}; !slices.Equal(positions(e), want) {
		t.Errorf("edges at %v, want %v", positions(e), want)
	}
}

// Wherever the stream is cut into blocks, the edges are the same.
func TestBlockBordersDoNotMatter(t *testing.T) {
	v := noisy(4000, 5)
	want := finder(5, 4, 10).Scan(0, nil, v, nil)
	if len(want) < 50 {
		t.Fatalf("only %d edges", len(want))
	}
	for _, size := range []int{1, 2, 3, 7, 100, 1999} {
		f := finder(5, 4, 10)
		var got []Edge
		for i := 0; i < len(v); i += size {
			got = f.Scan(float64(i), nil, v[i:min(i+size, len(v))], got)
		}
		if !slices.Equal(positions(got), positions(want)) {
			t.Errorf("blocks of %d give other edges", size)
		}
	}
}

// Swapping high and low turns rises into falls and moves nothing.
func TestMirror(t *testing.T) {
	v := noisy(4000, 6)
	up := finder(5, 4, 10).Scan(0, nil, v, nil)
	for i := range v {
		v[i] = 10 - v[i]
	}
	down := finder(5, 4, 10).Scan(0, nil, v, nil)
	if len(up) != len(down) {
		t.Fatalf("%d edges, mirrored %d", len(up), len(down))
	}
	for i := range up {
		u, d := up[i], down[i]
		several := math.IsNaN(u.Mid) && math.IsNaN(d.Mid)
		if u.Rise == d.Rise || !(math.Abs(u.X-d.X) <= 1e-9) || !(math.Abs(u.Slope-d.Slope) <= 1e-9) || u.Cell != d.Cell || !several && !(math.Abs(u.Mid-d.Mid) < 1e-9) {
			t.Fatalf("edge %d: %+v, mirrored %+v", i, up[i], down[i])
		}
	}
}

// Samples that lie on a limit, or leave their zone anywhere among others that do not, are found by the look at many at once as by a look
// at each.
func TestManyAtOnceIsOneByOne(t *testing.T) {
	rnd := rand.New(rand.NewPCG(9, 9))
	values := []float64{0, 3, 4, 5, 6, 7, 10, math.NaN()} // the band is 4 to 6
	for range 400 {
		var v []float64
		for len(v) < 120 {
			level := 10 * float64(rnd.IntN(2))
			for range rnd.IntN(30) {
				v = append(v, level)
			}
			v = append(v, values[rnd.IntN(len(values))])
		}
		whole, single := finder(5, 2, 10), finder(5, 2, 10)
		got := whole.Scan(0, nil, v, nil)
		var want []Edge
		for i, x := range v {
			want = single.step(float64(i), x, want)
		}
		same := func(a, b Edge) bool {
			return a.X == b.X && a.Cell == b.Cell && a.Slope == b.Slope && (a.Mid == b.Mid || a.Mid != a.Mid && b.Mid != b.Mid) && a.Rise == b.Rise && a.Break == b.Break
		}
		if !slices.EqualFunc(got, want, same) || whole.Runts != single.Runts || whole.Below != single.Below || whole.Above != single.Above {
			t.Fatalf("%v: %+v, one by one %+v", v, got, want)
		}
	}
}

// What is said of an edge beside its place: its cell, how much of the amplitude it rises by over it, where the middle of its two samples
// lies along it, and the samples nearest to the reference. Worked out by hand.
func TestWhatAnEdgeIsLike(t *testing.T) {
	f := finder(5, 2, 10)
	e := f.Scan(0, []float64{0, 1, 3, 4, 5, 9, 10}, []float64{0, 2, 9, 10, 8, 1, 0}, nil)
	if len(e) != 2 {
		t.Fatalf("%+v", e)
	}
	up, down := e[0], e[1]
	if !(math.Abs(up.X-(1+2*3.0/7)) <= 1e-12) || up.Cell != 2 || !(math.Abs(up.Slope-0.7) <= 1e-12) || !(math.Abs(up.Mid-0.05) <= 1e-12) || !up.Rise {
		t.Errorf("rise %+v", up)
	}
	if !(math.Abs(down.X-(5+4*3.0/7)) <= 1e-12) || down.Cell != 4 || !(math.Abs(down.Slope-0.7) <= 1e-12) || !(math.Abs(down.Mid-0.05) <= 1e-12) || down.Rise {
		t.Errorf("fall %+v", down)
	}
	if f.Below != 2 || f.Above != 8 {
		t.Errorf("nearest samples %g and %g, want 2 and 8", f.Below, f.Above)
	}
}

// noisy is a train of ramps with noise, so slow that they cross the reference several times.
func noisy(n int, seed uint64) []float64 {
	rnd := rand.New(rand.NewPCG(seed, 1))
	v := make([]float64, n)
	for i := range v {
		x := math.Abs(math.Mod(float64(i)+0.3, 77.7)-38.85) - 19
		v[i] = min(max(5+x*1.3, 0), 10) + 0.6*rnd.NormFloat64()
	}
	return v
}

// BenchmarkScan finds the edges of ten million samples of a noisy square wave of 3600 samples a period.
func BenchmarkScan(b *testing.B) {
	rnd := rand.New(rand.NewPCG(1, 1))
	v := make([]float64, 10_000_000)
	for i := range v {
		v[i] = 0.1 * rnd.NormFloat64()
		if i%3600 < 1975 {
			v[i] += 4.8
		}
	}
	const block = 4096
	var e []Edge
	edges := 0
	b.SetBytes(int64(8 * len(v)))
	for b.Loop() {
		f := finder(2.4, 0.96, 4.8)
		edges = 0
		for i := 0; i < len(v); i += block {
			e = f.Scan(float64(i), nil, v[i:min(i+block, len(v))], e[:0])
			edges += len(e)
		}
	}
	b.ReportMetric(float64(len(v))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s")
	b.ReportMetric(float64(edges), "edges")
}
