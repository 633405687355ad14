package stability

import (
	"io"
	"math"
	"testing"

	"offbeat/acquire"
)

// A long capture's quantity is kept in few points, and read back at any time within what its own change makes of that;
// unknown rows are left out, and rows may have times of their own.
func TestQuantity(t *testing.T) {
	const rows, step = 100_000, 1e-3
	at := func(t float64) float64 { return 25 + 5*math.Sin(t/10) }
	for _, c := range []struct {
		name          string
		times, negate bool
	}{{"even grid", false, false}, {"own times", true, false}, {"negated", false, true}} {
		row := 0
		inner := acquire.NewCapture(acquire.Capture{Start: 2, Step: step}, func(b *acquire.Block) error {
			if row == rows {
				return io.EOF
			}
			b.First, b.N = int64(row), 1000
			b.Time, b.Value = nil, [][]float64{make([]float64, b.N), make([]float64, b.N)}
			for i := range b.N {
				now := 2 + float64(row+i)*step
				if c.times {
					b.Time = append(b.Time, now)
				}
				b.Value[1][i] = at(now)
				if c.negate {
					b.Value[1][i] *= -1
				}
				if (row+i)%17 == 0 {
					b.Value[1][i] = math.NaN()
				}
			}
			row += b.N
			return nil
		})
		w, q := Watch(inner, 1, c.negate)
		var b acquire.Block
		for w.Read(&b) == nil {
		}
		if len(q.t) > quantityCap {
			t.Errorf("%s: %d points kept, at most %d", c.name, len(q.t), quantityCap)
		}
		for now := 2.1; now < 101; now += 3.7 {
			// A point is the mean of 32 rows or so; the change within them is at most 0.5 K/s times 50 ms.
			if got, want := q.At(now), at(now); !(math.Abs(got-want) <= 0.002) {
				t.Errorf("%s: at %.1f s %.4f, want %.4f", c.name, now, got, want)
			}
		}
		if got, want := q.At(0), at(2); !(math.Abs(got-want) <= 0.03) {
			t.Errorf("%s: before the record %.3f, want its first, %.3f", c.name, got, want)
		}
	}
	if !math.IsNaN((&Quantity{}).At(1)) {
		t.Error("no rows, yet a quantity")
	}
}
