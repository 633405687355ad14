package level

import "math"

// alike is how near the mean of a side's samples is to its level, as a share of the amplitude, if they agree.
const alike = 0.03

// Agree reports whether the samples v plainly lie about the levels: for a look now and then that costs a hundredth of
// what Find does. false says only that Find must tell; it also does where samples are clipped.
func (e *Estimate) Agree(v []float64) bool {
	var sum [2]float64
	var n [2]int
	for _, x := range v {
		if math.IsNaN(x) {
			continue
		}
		side := 0
		if x > e.Reference {
			side = 1
		}
		sum[side] += x
		n[side]++
	}
	reach := alike * e.Amplitude()
	for side, level := range [2]float64{e.Low, e.High} {
		if n[side] > 0 && !(math.Abs(sum[side]/float64(n[side])-level) < reach) {
			return false
		}
	}
	return true
}
