package picture

import (
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
)

// source is a capture of the given rows, handed out in blocks of random length.
func source(v []float64, timed bool) *acquire.Capture {
	rng := rand.New(rand.NewPCG(1, 2))
	at := 0
	return acquire.NewCapture(acquire.Capture{Start: 1, Step: 0.5}, func(b *acquire.Block) error {
		if at == len(v) {
			return io.EOF
		}
		n := min(1+rng.IntN(3000), len(v)-at)
		b.First, b.N, b.Value, b.Time = int64(at), n, [][]float64{v[at : at+n]}, nil
		if timed {
			b.Time = make([]float64, n)
			for i := range b.Time {
				b.Time[i] = 1 + 0.5*float64(at+i)
			}
		}
		at += n
		return nil
	})
}

func drain(t *testing.T, c *acquire.Capture) {
	t.Helper()
	var b acquire.Block
	for {
		if err := c.Read(&b); err == io.EOF {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// Every kept bin is compared with the rows it stands for, summed up afresh.
func TestTraceAgreesWithItsRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	v := make([]float64, 100_003)
	for i := range v {
		v[i] = rng.NormFloat64()
		if i%97 == 0 {
			v[i] = math.NaN()
		}
	}
	for _, timed := range []bool{false, true} {
		c, trace := Tap(source(v, timed))
		drain(t, c)
		if trace.rows != int64(len(v)) {
			t.Fatalf("Rows = %d", trace.rows)
		}
		for k, l := range trace.levels {
			w := 1 << k
			if want := min(len(v)/w, traceBins); len(l.kept[0]) != want {
				t.Errorf("level %d keeps %d bins, want %d", k, len(l.kept[0]), want)
			}
			for i, b := range l.kept[0] {
				lo, hi, sum, n := math.Inf(1), math.Inf(-1), 0.0, int64(0)
				for _, x := range v[i*w : (i+1)*w] {
					if !math.IsNaN(x) {
						lo, hi, sum, n = min(lo, x), max(hi, x), sum+x, n+1
					}
				}
				// The sums differ by rounding alone: 2^16 terms of order one.
				if b.min != lo || b.max != hi || b.n != n || !(math.Abs(b.sum-sum) <= 1e-10) {
					t.Fatalf("level %d bin %d is %+v, want %g %g %g %d", k, i, b, lo, hi, sum, n)
				}
			}
		}
	}
}

func TestTraceWindow(t *testing.T) {
	v := make([]float64, 50_000)
	for i := range v {
		v[i] = float64(i)
	}
	c, trace := Tap(source(v, false))
	drain(t, c)
	// Rows lie at 1 + 0.5 i; a window early in the record is read row by row, a late one from wider bins.
	early := trace.window(0, 11, 21)
	if first, last := early[0], early[len(early)-1]; first.t != 11 || first.mean != 20 || last.t != 21.5 {
		t.Errorf("early window runs from %+v to %+v, want rows 20 (11 s) to 41 (21.5 s)", first, last)
	}
	late := trace.window(0, 20_000, 24_000)
	if n := len(late); n < 400 || n > traceBins {
		t.Errorf("late window has %d columns", n)
	}
	for _, c := range late {
		if row := (c.t - 1) / 0.5; !(math.Abs(row-c.mean) <= 1e-6) || c.max < c.min {
			t.Errorf("column %+v does not lie over its rows about %g", c, row)
		}
	}
	if end := trace.end(); end != 1+0.5*49_999 {
		t.Errorf("end = %g", end)
	}
}

// Transitions are kept one by one, and only the first of them.
func TestTraceOfTransitions(t *testing.T) {
	v := make([]float64, 3*traceBins)
	for i := range v {
		v[i] = float64(i % 2)
	}
	src := source(v, true)
	src.Kind = acquire.Transitions
	c, trace := Tap(src)
	drain(t, c)
	if n := len(trace.levels[0].kept[0]); n != traceBins {
		t.Errorf("%d transitions kept, want %d", n, traceBins)
	}
	for i, b := range trace.levels[0].kept[0] {
		if b.min != v[i] || b.max != v[i] || trace.levels[0].time[i] != 1+0.5*float64(i) {
			t.Fatalf("transition %d is %+v at %g", i, b, trace.levels[0].time[i])
		}
	}
}

func BenchmarkTrace(b *testing.B) {
	v := make([]float64, 4096)
	for i := range v {
		v[i] = float64(i % 100)
	}
	t := &Trace{Capture: &acquire.Capture{Step: 1}}
	block := acquire.Block{N: len(v), Value: [][]float64{v}}
	b.SetBytes(int64(8 * len(v)))
	b.ReportAllocs()
	for b.Loop() {
		t.Add(&block)
	}
}
