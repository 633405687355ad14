package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Size is by how much a time changes at a place, with its standard uncertainty; unit of the time.
type Size struct{ By, Uncertainty float64 }

// Over is it relative to a time.
func (s Size) Over(time float64) Size { return Size{s.By / time, s.Uncertainty / time} }

const (
	clear   = 4  // standard uncertainties of its size that a lone jump stands out by: it is sought at many places
	beneath = 9  // in the logarithm of a share that is left out of a mean
	steps   = 24 // places that a change is tried at
	rounds  = 2  // of placing one after the other
)

// stands reports whether changes at some points stand out of the uncertainty of their sizes. A jump and its return do so together: what
// they shift the edges between them by.
func (s *series) stands(at []int) bool {
	if len(at) > 1 {
		return true
	}
	size := s.sizes(at)[0]
	return math.Abs(size.By) > clear*size.Uncertainty
}

// sizes are the posterior mean and standard deviation of each change at the given points. What the record leaves open is left free: the
// noise, by its prior shares; the place of the change and of its neighbour; the sizes of the others; and a drift beside all, whether it
// shows or not, for what bends the train by as much as a drift would is no jump.
func (s *series) sizes(at []int) []Size {
	if len(at) == 0 {
		return nil
	}
	places := make([]float64, len(at))
	for k, i := range at {
		places[k] = s.before(i)
	}
	best := s.likeliest(places)
	for range rounds {
		for k := range at {
			tried := s.open(best, places, k)
			all := s.guesses(best, without(places, k), tried, nil)
			places[k] = tried[slices.IndexFunc(all, func(g guess) bool { return g.log == highest(all) })]
		}
	}
	out := make([]Size, len(at))
	for k := range at {
		tried, fixed, beside := s.open(best, places, k), without(places, k), []float64(nil)
		if len(fixed) > 0 {
			j := k - 1
			if j < 0 || k+1 < len(at) && places[k+1]-places[k] < places[k]-places[j] {
				j = k + 1
			}
			beside = s.open(best, places, j)
			fixed = slices.DeleteFunc(fixed, func(x float64) bool { return x == places[j] })
		}
		var all []guess
		for _, n := range even {
			if n.wander == 0 || s.phase {
				all = append(all, s.guesses(n, fixed, tried, beside)...)
			}
		}
		mean, variance := mixed(all)
		out[k] = Size{mean / s.unit, math.Sqrt(variance) / s.unit}
	}
	return out
}

// without are the places but for one.
func without(places []float64, k int) []float64 { return slices.Delete(slices.Clone(places), k, k+1) }

// likeliest is the noise under which changes at some places are likeliest.
func (s *series) likeliest(places []float64) (best weighed) {
	top := math.Inf(-1)
	for _, n := range even {
		if n.wander == 0 || s.phase {
			if log := highest(s.guesses(n, places[1:], places[:1], nil)); log > top {
				best, top = n, log
			}
		}
	}
	return best
}

// open are the places that change k is likely to be at, the others at theirs: some between two points where few are.
func (s *series) open(n weighed, places []float64, k int) (out []float64) {
	from, to := s.x[s.shortest-1], s.x[len(s.x)-s.shortest]
	apart := float64(s.shortest) * (to - from) / float64(len(s.x))
	if k > 0 {
		from = places[k-1] + apart/2
	}
	if k+1 < len(places) {
		to = places[k+1] - apart/2
	}
	var ends [][2]float64
	var middles []float64
	for i := 1; i < len(s.x); i++ {
		if a, b := max(s.x[i-1], from), min(s.x[i], to); a < b {
			ends, middles = append(ends, [2]float64{a, b}), append(middles, (a+b)/2)
		}
	}
	if len(ends) == 0 {
		return places[k : k+1]
	}
	all := s.guesses(n, without(places, k), middles, nil)
	top := highest(all)
	var likely [][2]float64
	for i, g := range all {
		if g.log > top-beneath {
			likely = append(likely, ends[i])
		}
	}
	for i := range steps {
		at := (float64(i) + 0.5) / steps * float64(len(likely))
		gap := likely[int(at)]
		out = append(out, gap[0]+(gap[1]-gap[0])*(at-math.Floor(at)))
	}
	return out
}

// guess is a size with its variance, and the log of its share.
type guess struct{ log, by, variance float64 }

// guesses are those of a change under a noise, at each of some places in turn, where others are fixed, and one more is at each of the
// places beside in turn: by generalised least squares, the variance that of Student's distribution, the share that of the likelihood
// with all sizes integrated out, each as likely in each octave.
func (s *series) guesses(n weighed, fixed, places, beside []float64) (out []guess) {
	w := s.filter(n.noise)
	b := s.basis(w, s.first()+1)
	for _, place := range fixed {
		b.add(w.white(s.bend(place)))
	}
	y := w.white(s.y)
	b.off(y)
	rest, free := floats.Dot(y, y), float64(len(y)-len(b.cols))
	columns := func(places []float64) (cols [][]float64, along []float64) {
		for _, place := range places {
			c := w.white(s.bend(place))
			b.off(c)
			cols, along = append(cols, c), append(along, floats.Dot(y, c))
		}
		return cols, along
	}
	// add takes sizes, one or two, with the cofactors of their covariance and its determinant.
	add := func(determinant, explained float64, sizes, cofactors []float64) {
		left := max(rest-explained, rest*1e-12, math.SmallestNonzeroFloat64)
		own := max(free-float64(len(sizes)), 1)
		log := n.log - (w.logs+b.logs+math.Log(determinant)+own*math.Log(left))/2
		for i, size := range sizes {
			log -= math.Log(max(math.Abs(size), math.Sqrt(left/own*cofactors[i])))
		}
		out = append(out, guess{log, sizes[0], left / max(own-2, 1) * cofactors[0]})
	}
	cols, along := columns(places)
	other, across := columns(beside)
	for i, c := range cols {
		g, a := floats.Dot(c, c), along[i]
		if len(beside) == 0 && g > math.SmallestNonzeroFloat64 {
			add(g, a*a/g, []float64{a / g}, []float64{1 / g})
		}
		for j, o := range other {
			h, q, d := floats.Dot(c, o), floats.Dot(o, o), across[j]
			if determinant := g*q - h*h; determinant > tiny*g*q && math.Abs(places[i]-beside[j]) > s.brief {
				add(determinant, (a*a*q-2*a*d*h+d*d*g)/determinant, []float64{(a*q - d*h) / determinant, (d*g - a*h) / determinant}, []float64{q / determinant, g / determinant})
			}
		}
	}
	return out
}

func highest(all []guess) float64 {
	top := math.Inf(-1)
	for _, g := range all {
		top = max(top, g.log)
	}
	return top
}

// mixed are the mean and the variance of a mixture.
func mixed(all []guess) (mean, variance float64) {
	top := highest(all)
	var sum, squares float64
	for _, g := range all {
		share := math.Exp(g.log - top)
		sum, mean, squares = sum+share, mean+share*g.by, squares+share*(g.variance+g.by*g.by)
	}
	mean /= sum
	return mean, max(squares/sum-mean*mean, 0)
}
