package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/train"
)

// Bursts of 6 cycles of a train of period 177.12, each edge rounded to its sample: those that a gate lets through at its own
// times go on in one train, numbered by its cycles. Bursts that each start the train anew do not, whether the gate keeps
// to its own time, to whole periods or to none; nor do those of a train that wanders between them.
func TestThroughTheGaps(t *testing.T) {
	const period, high = 177.12, 75.3
	rnd := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		name  string
		start func(burst int) float64 // in periods
		joins bool
	}{
		{"a gate at its own times", func(k int) float64 { return math.Ceil(16.852 * float64(k)) }, true},
		{"started anew, at a gate's own times", func(k int) float64 { return 16.852 * float64(k) }, false},
		{"started anew each 17 periods", func(k int) float64 { return 17 * float64(k) }, false},
		{"started anew a little late", func(k int) float64 { return 17.01 * float64(k) }, false},
		{"at random", func(k int) float64 { return 17*float64(k) + rnd.Float64() }, false},
		{"wandering by a hundredth of a period", func(k int) float64 { return math.Ceil(16.852*float64(k)) + 0.01*rnd.NormFloat64() }, false},
	} {
		var cycles []train.Cycle
		for k := range 13 {
			start := c.start(k)
			for i := range 6 {
				x := (start + float64(i)) * period
				one := train.Cycle{Rise: math.Floor(x), Fall: math.Floor(x + high), Index: float64(i), N: 1, Start: i == 0}
				if i == 0 && k%3 == 1 {
					one.Rise = math.NaN() // cut by the gate
				}
				cycles = append(cycles, one)
			}
		}
		out := through(cycles, 1)
		for i, o := range out {
			want := cycles[i]
			if c.joins {
				want.Start, want.Index = i == 0, want.Index+math.Ceil(16.852*float64(i/6))
			}
			if o.Start != want.Start || o.Index != want.Index {
				t.Fatalf("%s: cycle %d is %+v, want %+v", c.name, i, o, want)
			}
		}
	}
}
