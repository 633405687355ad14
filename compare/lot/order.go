package lot

import (
	"math"
	"slices"
)

// order is boards in a row: their points about the mean, round by what neighbours differ by, and the sums of them from the first on.
type order struct {
	points     []point
	dimensions int
	white      lower
	sum        []point
}

// orderOf is nil where neighbours do not differ.
func orderOf(points []point, dimensions int) *order {
	n := len(points)
	mean, _ := momentsOf(points)
	var steps []point
	for i := 1; i < n; i++ {
		d := point{points[i][0] - points[i-1][0], points[i][1] - points[i-1][1]}
		steps = append(steps, d, point{-d[0], -d[1]})
	}
	_, c := momentsOf(steps)
	white, ok := whitener(c, dimensions)
	if !ok {
		return nil
	}
	o := &order{dimensions: dimensions, white: white, sum: make([]point, n+1)}
	for i, x := range points {
		z := white.of(point{x[0] - mean[0], x[1] - mean[1]})
		o.points = append(o.points, z)
		o.sum[i+1] = point{o.sum[i][0] + z[0], o.sum[i][1] + z[1]}
	}
	return o
}

// cost is the sum of squares of some boards about their mean, less that about the mean of all, which no split changes.
func (o *order) cost(from, to int) float64 {
	a, b := o.sum[to][0]-o.sum[from][0], o.sum[to][1]-o.sum[from][1]
	return -(a*a + b*b) / float64(to-from)
}

// left is the ln of the determinant of the mean scatter about the means of groups, which begin at the first board and at those given.
func (o *order) left(at []int) float64 {
	off := make([]point, 0, len(o.points))
	from := 0
	for _, to := range append(slices.Clone(at), len(o.points)) {
		n := float64(to - from)
		for _, z := range o.points[from:to] {
			off = append(off, point{z[0] - (o.sum[to][0]-o.sum[from][0])/n, z[1] - (o.sum[to][1]-o.sum[from][1])/n})
		}
		from = to
	}
	return o.determinant(off, nil)
}

// determinant is the ln of that of the mean products of what is left over, each over its weight; nil: all are one.
func (o *order) determinant(off []point, weight []float64) float64 {
	var c [3]float64
	for i, p := range off {
		w := 1 / float64(len(off))
		if weight != nil {
			w /= weight[i]
		}
		c[0], c[1], c[2] = c[0]+w*p[0]*p[0], c[1]+w*p[0]*p[1], c[2]+w*p[1]*p[1]
	}
	if o.dimensions == 1 {
		return math.Log(c[0])
	}
	return math.Log(c[0]*c[2] - c[1]*c[1])
}

// without is how much likelier than a level a course is that leaves so much over, less Schwarz's penalty (1978) on its numbers.
func (o *order) without(left, numbers float64) float64 {
	n := float64(len(o.points))
	return n/2*(o.left(nil)-left) - numbers/2*math.Log(n)
}
