package nextreading

import (
	"cmp"
	"math"
	"slices"

	"offbeat/fit/posterior"
)

// Sizes of the estimate: the posterior is thinned to points of equal weight, and for the first of them the reading is
// imagined. 512 points hold an explanation of two percent with ten.
const (
	points   = 512
	imagined = 96
	least    = 8 // other points that must agree with an imagined reading: fewer could not tell how rare it is
)

// thin takes samples of equal weight.
func (b *Bench) thin(r *posterior.Result, group []int) []point {
	comb := r.Comb(points, 0.5)
	out := make([]point, len(comb))
	for i, s := range comb {
		if i > 0 && s == comb[i-1] {
			out[i] = out[i-1]
			continue
		}
		out[i], _ = b.point(s.Values, b.of(s)) // a sample runs: it meets the times
		out[i].group = group[s.Hypothesis]
	}
	// The samples run from explanation to explanation; steps of a number prime to any length take a fair few of each.
	mixed := make([]point, len(out))
	const stride = 619
	for i := range out {
		mixed[i] = out[i*stride%len(out)]
	}
	return mixed
}

// shown is what a test shows of a point.
type shown struct {
	y     [most]float64
	group int32
	point int32
}

// information is the mutual information, in bits, between the explanation and what the test shows. For each imagined
// board its own reading, off by a drawn error within the limits, leaves the boards that agree with it within the
// limits; the mean entropy of their explanations is what would be left. Where too few boards agree the limits are
// widened until enough do, so that a reading is not credited with what the points are too few to show.
func (e *estimator) information(t *test) float64 {
	all := e.shown[:0]
	for i := range e.points {
		all = append(all, shown{group: int32(e.points[i].group), point: int32(i)})
		if s := &all[i]; !t.observe(&e.points[i], &s.y) {
			s.y = [most]float64{math.Inf(1), 0, 0}
		}
	}
	e.shown = all
	slices.SortFunc(all, func(a, b shown) int { return cmp.Compare(a.y[0], b.y[0]) })
	left, n := 0.0, 0
	for i := range all {
		if all[i].point >= imagined {
			continue
		}
		n++
		if math.IsInf(all[i].y[0], 1) { // that board would not run, and nor would these
			left += e.entropyOf(all, func(s *shown) bool { return math.IsInf(s.y[0], 1) })
			continue
		}
		y := all[i].y
		for k, a := range t.accuracy {
			y[k] += a * e.errors[int(all[i].point)*most+k]
		}
		left += e.after(all, y, t.accuracy)
	}
	return max(e.before-left/float64(max(n, 1)), 0)
}

// after is the entropy of the explanations that agree with a reading y.
func (e *estimator) after(all []shown, y [most]float64, accuracy []float64) float64 {
	for scale := 1.0; ; scale *= 2 {
		from, _ := slices.BinarySearchFunc(all, y[0]-scale*accuracy[0], func(s shown, x float64) int { return cmp.Compare(s.y[0], x) })
		clear(e.count)
		n := 0
		for i := from; i < len(all) && all[i].y[0] <= y[0]+scale*accuracy[0]; i++ {
			agree := true
			for k := 1; k < len(accuracy); k++ {
				agree = agree && math.Abs(all[i].y[k]-y[k]) <= scale*accuracy[k]
			}
			if agree {
				e.count[all[i].group]++
				n++
			}
		}
		if n > least || scale > 1e6 {
			return entropy(e.count)
		}
	}
}

func (e *estimator) entropyOf(all []shown, is func(*shown) bool) float64 {
	clear(e.count)
	for i := range all {
		if is(&all[i]) {
			e.count[all[i].group]++
		}
	}
	return entropy(e.count)
}

// estimator holds what the estimates of all tests share.
type estimator struct {
	points []point
	errors []float64 // most a point, -1 … 1
	before float64   // entropy of the explanations, bits
	shown  []shown
	count  []float64
}

func (b *Bench) estimator(r *posterior.Result, explanation []string) *estimator {
	group, n := numbered(explanation)
	e := &estimator{points: b.thin(r, group), count: make([]float64, n)}
	e.shown = make([]shown, 0, len(e.points))
	for _, p := range e.points {
		e.count[p.group]++
	}
	e.before = entropy(e.count)
	// A Kronecker sequence of square roots of primes: even in every coordinate, the same each time.
	for i := range min(imagined, len(e.points)) {
		for _, root := range [most]float64{math.Sqrt2, 1.7320508075688772, 2.23606797749979} {
			e.errors = append(e.errors, 2*math.Mod(float64(i+1)*root, 1)-1)
		}
	}
	return e
}

// numbered gives equal names equal numbers from 0.
func numbered(names []string) (number []int, count int) {
	seen := map[string]int{}
	for _, n := range names {
		k, ok := seen[n]
		if !ok {
			k = len(seen)
			seen[n] = k
		}
		number = append(number, k)
	}
	return number, len(seen)
}

// entropy of shares that stand for their sum, in bits.
func entropy(w []float64) float64 {
	var sum float64
	for _, x := range w {
		sum += x
	}
	h := 0.0
	for _, x := range w {
		if p := x / sum; p > 0 {
			h -= p * math.Log2(p)
		}
	}
	return h
}
