package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/train"
)

// A log that was pasted twice, or three times, shows in its times; constant times, coarse digits, rounding that comes again and a train
// without a copy do not look like one.
func TestCopiesOfALog(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 61))
	noisy := func(n int, digit float64) (d [][2]float64) {
		for range n {
			d = append(d, [2]float64{math.Round((3951+6*rnd.NormFloat64())/digit) * digit, math.Round((3258+6*rnd.NormFloat64())/digit) * digit})
		}
		return d
	}
	again := func(d [][2]float64, times int) (all [][2]float64) {
		for range times {
			all = append(all, d...)
		}
		return all
	}
	cycles := func(d [][2]float64) (c []train.Cycle) {
		at := 0.0
		for i, x := range d {
			c = append(c, train.Cycle{Rise: at * 1e-6, Fall: (at + x[0]) * 1e-6, N: 1, Index: float64(i), Start: i == 0})
			at += x[0] + x[1]
		}
		return c
	}
	one := noisy(29, 1)
	slip := again(one, 2)
	slip[40][0]++
	half := again(one, 2)
	for i := range half[29:] {
		half[29+i][1] = noisy(1, 1)[0][1]
	}
	var beats [][2]float64 // constant times as the differences of rounded instants
	at := func(x float64) float64 { return math.Round(x * 0.0625) }
	for i := range 96 {
		x := float64(i) * 1235.2
		beats = append(beats, [2]float64{at(x+700) - at(x), at(x+1235.2) - at(x+700)})
	}
	for _, c := range []struct {
		name  string
		times [][2]float64
		want  int
	}{
		{"pasted twice", again(one, 2), 29},
		{"pasted twice, the first pulse cut off", again(one, 2)[1:], 29},
		{"pasted three times", again(one, 3), 29},
		{"pasted twice, one digit of it wrong", slip, 0},
		{"high times alone", half, 0},
		{"once", noisy(58, 1), 0},
		{"too short a copy", again(one[:6], 2), 0},
		{"constant", again([][2]float64{{3951, 3258}}, 60), 0},
		{"coarse digits", again(noisy(29, 20), 2), 0},
		{"instants that were rounded", beats, 0},
	} {
		if got := copied(cycles(c.times), 1e-6); got != c.want {
			t.Errorf("%s: %d cycles come again, expected %d", c.name, got, c.want)
		}
	}
	r := &run{}
	whole := &train.Record{Cycles: cycles(again(one, 2)), Highs: 58, Lows: 57, Whole: 57}
	if p := r.once(whole, 1e-6); len(p.Cycles) != 29 || p.Highs != 29 || len(r.notes) != 1 {
		t.Errorf("%d cycles, %d highs, %q", len(p.Cycles), p.Highs, r.notes)
	}
}
