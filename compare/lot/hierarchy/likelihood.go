package hierarchy

import (
	"cmp"
	"math"
	"slices"
)

// class holds boards whose measurement noise is alike: their number, mean, and squares about it.
type class struct {
	n       float64
	mean    pair
	squares matrix
	noise   matrix // the mean of theirs
}

// alike is the ratio of noise variances within a class.
const alike = 2

// classify sorts boards by noise and groups those that are alike; with equal noise that loses nothing.
func (m *Model) classify(boards []Board) []class {
	size := func(b Board) float64 { return b.Noise.High + b.Noise.Low + leastNoise }
	sorted := slices.SortedStableFunc(slices.Values(boards), func(a, b Board) int { return cmp.Compare(size(a), size(b)) })
	var out []class
	for len(sorted) > 0 {
		k := 1
		for k < len(sorted) && size(sorted[k]) <= alike*size(sorted[0]) {
			k++
		}
		out = append(out, m.classOf(sorted[:k]))
		sorted = sorted[k:]
	}
	return out
}

func (m *Model) classOf(boards []Board) class {
	c := class{n: float64(len(boards))}
	for _, b := range boards {
		y := b.residual()
		c.mean[0] += y[0] / c.n
		c.mean[1] += y[1] / c.n
		c.noise = c.noise.plus(b.noise(m.onePulse).times(1 / c.n))
	}
	for _, b := range boards {
		c.squares = c.squares.plus(outer(b.residual().minus(c.mean)))
	}
	return c
}

// centre is the generalised least-squares mean for V, and its information (inverse covariance).
func centre(data []class, v matrix) (mean pair, information matrix) {
	var sum pair
	for _, c := range data {
		w := v.plus(c.noise).inverse().times(c.n)
		information = information.plus(w)
		x := w.apply(c.mean)
		sum[0] += x[0]
		sum[1] += x[1]
	}
	return information.inverse().apply(sum), information
}

// logLikelihood of V with the centre integrated out (REML), up to a constant.
func logLikelihood(data []class, v matrix) float64 {
	if len(data) == 1 { // as in most lots: the centre is the boards' mean
		c := &data[0]
		w := v.plus(c.noise)
		d := w.determinant()
		l := -0.5 * ((c.n-1)*math.Log(d) + matrix{w[2], -w[1], w[0]}.trace(c.squares)/d)
		if math.IsNaN(l) {
			return math.Inf(-1)
		}
		return l
	}
	// One pass: the squares about the centre are those about the first class's mean less what the centre explains of them.
	var information matrix
	var sum pair
	l := 0.0
	for i := range data {
		c := &data[i]
		w := v.plus(c.noise)
		d := w.determinant()
		inverse := matrix{w[2], -w[1], w[0]}.times(1 / d)
		weight := inverse.times(c.n)
		x := c.mean.minus(data[0].mean)
		y := weight.apply(x)
		information = information.plus(weight)
		sum[0], sum[1] = sum[0]+y[0], sum[1]+y[1]
		l += c.n*math.Log(d) + inverse.trace(c.squares) + x[0]*y[0] + x[1]*y[1]
	}
	l += math.Log(information.determinant()) - information.inverse().distance(sum)
	if math.IsNaN(l) {
		return math.Inf(-1)
	}
	return -0.5 * l
}
