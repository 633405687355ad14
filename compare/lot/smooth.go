package lot

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// mostWaves is how many half swings a smooth course along the boards has at most.
const mostWaves = 12

// waves is how much likelier than a level the best smooth course is, cosines of up to so many half swings; and the course.
func (o *order) waves() (best float64, along []point) {
	n := float64(len(o.points))
	best = math.Inf(-1)
	sum, left := make([]point, len(o.points)), make([]point, len(o.points))
	for k := 1; k <= min(mostWaves, len(left)/4); k++ {
		at := func(i int) float64 { return math.Cos(math.Pi * float64(k) * (float64(i) + 0.5) / n) }
		var a point
		for i, z := range o.points {
			w := 2 / n * at(i)
			a[0], a[1] = a[0]+w*z[0], a[1]+w*z[1]
		}
		for i, z := range o.points {
			sum[i] = point{sum[i][0] + at(i)*a[0], sum[i][1] + at(i)*a[1]}
			left[i] = point{z[0] - sum[i][0], z[1] - sum[i][1]}
		}
		if gain := o.without(o.determinant(left, nil), float64(k*o.dimensions)); gain > best {
			best, along = gain, append(along[:0], sum...)
		}
	}
	return best, along
}

// bends are how curved a course may run off or settle: times of e along the boards; nought is a straight line.
var bends = []float64{0, 2, -2, 4, -4, 8, -8, 16, -16}

// bend is how much likelier than a level a course is that goes as exp(k x) along the boards, as tools wear and ovens settle.
func (o *order) bend(k float64) float64 {
	n := float64(len(o.points))
	shape := make([]float64, len(o.points))
	for i := range shape {
		x := float64(i) / n
		if shape[i] = x; k != 0 {
			shape[i] = math.Exp(k * x)
		}
	}
	floats.AddConst(-floats.Sum(shape)/n, shape)
	square := floats.Dot(shape, shape)
	var slope point
	for i, z := range o.points {
		slope[0], slope[1] = slope[0]+shape[i]*z[0]/square, slope[1]+shape[i]*z[1]/square
	}
	left := make([]point, len(o.points))
	for i, z := range o.points {
		left[i] = point{z[0] - shape[i]*slope[0], z[1] - shape[i]*slope[1]}
	}
	numbers := float64(o.dimensions)
	if k != 0 {
		numbers++
	}
	return o.without(o.determinant(left, nil), numbers)
}

// wander is how much likelier than a level one is that walks at random beneath the boards' own scatter (Harvey 1989, 4.1).
func (o *order) wander() (best float64) {
	n, p := float64(len(o.points)), float64(o.dimensions)
	likely := func(q float64) float64 {
		level, spread := o.points[0], 1.0 // of the level, in squares of the boards' scatter
		var off []point
		var weight []float64
		logs := 0.0
		for _, z := range o.points[1:] {
			spread += q
			e := point{z[0] - level[0], z[1] - level[1]}
			off, weight = append(off, e), append(weight, 1+spread)
			logs += math.Log(1 + spread)
			spread /= 1 + spread
			level[0], level[1] = level[0]+spread*e[0], level[1]+spread*e[1]
		}
		return -(n-1)/2*o.determinant(off, weight) - p/2*logs
	}
	still := likely(0)
	for q := 1e-4; q < 2; q *= 2 {
		best = max(best, likely(q)-still-math.Log(n)/2)
	}
	return best
}

// smooth is how much likelier than a level the best course without changes is; nought: none.
func (o *order) smooth() float64 {
	best, _ := o.waves()
	best = max(best, o.wander(), 0)
	for _, k := range bends {
		best = max(best, o.bend(k))
	}
	return best
}
