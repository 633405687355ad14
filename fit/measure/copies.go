package measure

import (
	"fmt"
	"math"

	"offbeat/fit/train"
)

const (
	copyKinds  = 4    // different highs, or lows, from which on their order tells anything: rounding alone makes two, in an order that may come again
	copyBits   = 60   // that the order of a copy's times must be worth: less comes again by chance once in a while
	copyDigits = 0.01 // of a digit: what sums of times leave
)

// once leaves out the copies of a train whose times come again, digit for digit and in the same order, as in a log that was pasted twice:
// they say nothing new. cell is the digit of its times.
func (r *run) once(t *train.Record, cell float64) *train.Record {
	n := copied(t.Cycles, cell)
	if n == 0 {
		return t
	}
	r.notes = append(r.notes, fmt.Sprintf("the same %d cycles stand there %.0f times, digit for digit, as in a log that was pasted: they count once", n, math.Round(float64(len(t.Cycles))/float64(n))))
	return t.Part(math.Inf(-1), t.Cycles[n-1].Fall)
}

// copied is how many cycles come again and again from the first one on; 0: none.
func copied(cycles []train.Cycle, cell float64) int {
	var times [2][]float64
	for i, c := range cycles {
		if c.N != 1 {
			return 0
		}
		low := math.NaN()
		if i+1 < len(cycles) && !cycles[i+1].Start {
			low = cycles[i+1].Rise - c.Fall
		}
		times[0], times[1] = append(times[0], math.Round((c.Fall-c.Rise)/cell/copyDigits)), append(times[1], math.Round(low/cell/copyDigits))
	}
	worth := bits(times[0]) + bits(times[1]) // of a cycle
	alike := func(of []float64, n int) bool {
		for i, x := range of[n:] {
			if math.Abs(x-of[i]) > 1 { // or one is not known
				return false
			}
		}
		return true
	}
	for n := int(math.Ceil(copyBits / max(worth, 1e-9))); n <= len(cycles)/2+1 && n < len(cycles); n++ {
		if alike(times[0], n) && alike(times[1], n) {
			return n
		}
	}
	return 0
}

// bits is how much one of such numbers says: the logarithm of how seldom two of them are equal by chance; 0 where too few differ.
func bits(x []float64) float64 {
	count, n := map[float64]float64{}, 0.0
	for _, v := range x {
		if !math.IsNaN(v) {
			count[math.Round(v*copyDigits)]++
			n++
		}
	}
	if len(count) < copyKinds {
		return 0
	}
	equal := 0.0
	for _, k := range count {
		equal += k * k / n / n
	}
	return -math.Log2(equal)
}
