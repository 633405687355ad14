package level

import "slices"

// A trace that leaves the screen is stored at its edge: that side stands at one value, the last of all, however much noise the
// other has. How far the output went beyond it is not known, nor then where the middle of its swing lies. An output that is truly
// quiet on one side looks alike; where its edges are steep nothing comes of it.
const (
	stands   = 0.98  // of the samples about the level are the last value of all
	shakes   = 0.05  // of the other side's lie as far outside its median as makes noise, which slopes are not:
	asFar    = 0.25  // times as far as so many lie inside it
	fewStand = 20    // samples that can tell
	Beyond   = 0.289 // of the swing that is seen, root mean square of what may lie beyond it: nothing to half of it (rectangular)
)

// cut says whether the trace is cut off at the high level, given the sorted samples about both; of their negatives, whether at the low one.
func cut(low, high []float64) bool {
	if !still(high) || len(low) < fewStand {
		return false
	}
	tail, median := int(shakes*float64(len(low))), low[len(low)/2]
	outside, inside := median-low[tail], low[len(low)-1-tail]-median
	return outside > asFar*inside
}

// still says whether sorted samples are nearly all the last of them.
func still(s []float64) bool {
	if len(s) < fewStand {
		return false
	}
	at, _ := slices.BinarySearch(s, s[len(s)-1])
	return float64(at) < (1-stands)*float64(len(s))
}

// turned are the negatives of sorted samples, sorted.
func turned(s []float64) []float64 {
	out := make([]float64, len(s))
	for i, x := range s {
		out[len(s)-1-i] = -x
	}
	return out
}
