package picture

import (
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
)

// Histogram draws how many values fall into each of some even classes, with the normal curve of their mean and
// deviation and, hatched, what lies outside the limits; an infinite limit is none.
func Histogram(id, title, caption, name string, unit quantity.Unit, values []float64, mean, deviation, low, high float64) Picture {
	const left, right, top, bottom = 40.0, 372.0, 32.0, 172.0
	c := newCanvas(id, 212)
	from, to := slices.Min(values), slices.Max(values)
	for _, l := range []float64{low, high} {
		if !math.IsInf(l, 0) {
			from, to = min(from, l), max(to, l)
		}
	}
	from, to = padded(from, to, 0.06)
	n := classes(values, to-from)
	counts := make([]int, n)
	most := 0
	for _, v := range values {
		k := min(int(float64(n)*(v-from)/(to-from)), n-1)
		counts[k]++
		most = max(most, counts[k])
	}
	class := (to - from) / float64(n)
	peak := float64(len(values)) * class / (deviation * math.Sqrt(2*math.Pi))
	x, y := scale{from, to, left, right}, scale{0, float64(most) * 1.1, bottom, top}
	if !math.IsInf(low, 0) {
		c.hatch("none", box{left, top, x.at(low), bottom})
		c.line("limit", x.at(low), top, x.at(low), bottom)
	}
	if !math.IsInf(high, 0) {
		c.hatch("none", box{x.at(high), top, right, bottom})
		c.line("limit", x.at(high), top, x.at(high), bottom)
	}
	for k, v := range counts {
		if v > 0 {
			c.rect("bar", box{x.at(from+class*float64(k)) + 0.5, y.at(float64(v)), x.at(from+class*float64(k+1)) - 0.5, bottom})
		}
	}
	var curve []point
	for i := range 121 {
		v := from + (to-from)*float64(i)/120
		z := (v - mean) / deviation
		n := peak * math.Exp(-0.5*z*z)
		if n > y.to { // the bars set the scale
			n = math.NaN()
		}
		curve = append(curve, point{x.at(v), y.at(n)})
	}
	c.path("c1", curve)
	c.line("axis", left, bottom, left, top)
	for v := 0.0; v <= y.to; v += max(step(y.to, 4), 1) {
		c.line("axis", left-4, y.at(v), left, y.at(v))
		c.text("tick", end, left-7, y.at(v)+4.5, fmt.Sprint(v))
	}
	c.text("label", start, 0, 13, "boards")
	c.axisX(x, bottom, 5, unit, name)
	prose := fmt.Sprintf("%d values, mean %s, standard deviation %s.", len(values), quantity.Format(mean, unit), quantity.Format(quantity.Rounded(deviation, 2), unit))
	return c.picture(title, caption, prose)
}

// classes is how many classes a range is parted into, by the rule of Freedman and Diaconis (1981), 2 IQR n^(-1/3), which
// a few values far out do not widen; held to what the width shows.
func classes(values []float64, span float64) int {
	v := slices.Sorted(slices.Values(values))
	width := 2 * (v[len(v)*3/4] - v[len(v)/4]) / math.Cbrt(float64(len(v)))
	if !(width > 0) {
		return leastClasses
	}
	return int(min(max(math.Ceil(span/width), leastClasses), mostClasses))
}

const leastClasses, mostClasses = 8, 60
