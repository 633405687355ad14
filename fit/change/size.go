package change

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Size is by how much a time changes at a place, with its standard uncertainty; unit of the time.
type Size struct{ By, Uncertainty float64 }

// Over is it relative to a time.
func (s Size) Over(time float64) Size { return Size{s.By / time, s.Uncertainty / time} }

const (
	clear   = 4  // standard uncertainties of its size that a lone jump stands out by, if no wander is to look alike: it is sought at many places
	steps   = 31 // places that a change is tried at
	unlike  = 12 // in the logarithm of a share that is left out of a mean
	telling = 4  // noises that say where it may lie
)

// stands reports whether a lone change stands out of the uncertainty of its size. A jump and its return do so together: by what they shift
// the edges between them.
func stands(s Size) bool { return math.Abs(s.By) > clear*s.Uncertainty }

// sizes are the posterior mean and standard deviation of each change at the given points. What the record leaves open is left free: the
// noise, by its prior shares; the place of the change and of its neighbour; the sizes of the others; and a drift beside all, whether it
// shows or not, for what bends the train by as much as a drift would is no jump; but for one that a drift is another answer to, and is none beside.
func (s *series) sizes(at []int) []Size {
	if len(at) == 0 {
		return nil
	}
	places := make([]float64, len(at))
	for k, i := range at {
		places[k] = s.before(i)
	}
	out, noises := make([]Size, len(at)), s.matter(places)
	for k := range at {
		j, fixed := k, slices.Delete(slices.Clone(places), k, k+1)
		if len(at) > 1 {
			if j = k - 1; j < 0 || k+1 < len(at) && places[k+1]-places[k] < places[k]-places[j] {
				j = k + 1
			}
			fixed = slices.DeleteFunc(fixed, func(x float64) bool { return x == places[j] })
		}
		from, to := s.room(places, min(j, k), max(j, k))
		var beside []spot
		if j != k {
			beside = s.likely(noises[:1], fixed, s.gaps(from, to), from, to, j > k)
		}
		tried := s.likely(noises, fixed, beside, from, to, k > j)
		var all []guess
		for _, n := range noises {
			all = append(all, s.guesses(n, fixed, tried, beside, k > j)...)
		}
		mean, variance := mixed(all)
		out[k] = Size{mean / s.unit, math.Sqrt(variance) / s.unit}
	}
	return out
}

// stated are the sizes of the jumps at some points, with and without a drift beside them by its probability where they are not told from one.
func (s *series) stated(at []int, told bool, drift float64) []Size {
	with, without := s.sizes(at), *s
	if told {
		return with
	}
	without.degree = s.first()
	for k, alone := range without.sizes(at) {
		by := alone.By + drift*(with[k].By-alone.By)
		square := func(z Size) float64 { return z.Uncertainty*z.Uncertainty + (z.By-by)*(z.By-by) }
		with[k] = Size{by, math.Sqrt(drift*square(with[k]) + (1-drift)*square(alone))}
	}
	return with
}

// matter are the noises under which changes at some places are likely, the likeliest first.
func (s *series) matter(places []float64) (out []weighed) {
	logs := map[noise]float64{}
	for _, n := range open {
		if n.wander == 0 || s.phase {
			logs[n.noise] = highest(s.guesses(n, places[1:], []spot{{places[0], 1}}, nil, false))
			out = append(out, n)
		}
	}
	slices.SortStableFunc(out, func(a, b weighed) int { return cmp.Compare(logs[b.noise], logs[a.noise]) })
	top := logs[out[0].noise]
	return slices.DeleteFunc(out, func(n weighed) bool { return logs[n.noise] < top-unlike })
}

// room is where changes from one to another of those at some places may lie, between their neighbours.
func (s *series) room(places []float64, first, last int) (from, to float64) {
	from, to = s.x[s.shortest-1], s.x[len(s.x)-s.shortest]
	if first > 0 {
		from = places[first-1] + s.brief
	}
	if last+1 < len(places) {
		to = places[last+1] - s.brief
	}
	return from, to
}

// spot is a place, and how much of the record it stands for.
type spot struct{ at, width float64 }

// gaps lie between two points each.
func (s *series) gaps(from, to float64) (out []spot) {
	for i := 1; i < len(s.x); i++ {
		if a, b := max(s.x[i-1], from), min(s.x[i], to); a < b {
			out = append(out, spot{(a + b) / 2, b - a})
		}
	}
	return out
}

// likely are places between two that stand for all that a change may be at, as the likeliest of some noises say, others being fixed and
// one more at any of the places beside.
func (s *series) likely(noises []weighed, fixed []float64, beside []spot, from, to float64, after bool) (out []spot) {
	gaps := s.gaps(from, to)
	best, top := make([]float64, len(gaps)), math.Inf(-1)
	for i := range best {
		best[i] = math.Inf(-1)
	}
	for _, n := range noises[:min(telling, len(noises))] {
		for _, g := range s.guesses(n, fixed, gaps, beside, after) {
			best[g.place], top = max(best[g.place], g.log), max(top, g.log)
		}
	}
	var left []spot
	length := 0.0
	for i, log := range best {
		if log >= top-unlike {
			left, length = append(left, gaps[i]), length+gaps[i].width
		}
	}
	for i := range steps * min(len(left), 1) {
		at := (float64(i) + 0.5) / steps * float64(len(left))
		gap := left[int(at)]
		out = append(out, spot{gap.at + gap.width*(at-math.Floor(at)-0.5), length / steps})
	}
	return out
}

// guess is a size with its variance, and the log of its share.
type guess struct {
	log, by, variance float64
	place             int
}

// guesses are those of a change under a noise, at each of some places in turn, where others are fixed, and one more is at each of the
// places beside in turn: by generalised least squares, the variance that of Student's distribution, the share that of the likelihood
// with all sizes integrated out, each as likely in each octave. It lies after the one beside, or before.
func (s *series) guesses(n weighed, fixed []float64, places, beside []spot, after bool) (out []guess) {
	w := s.filter(n.noise)
	b := s.basis(w, s.degree)
	for _, place := range fixed {
		b.add(w.white(s.bend(place)))
	}
	y := w.white(s.y)
	b.off(y)
	rest, free := floats.Dot(y, y), float64(len(y)-len(b.cols))
	columns := func(places []spot) (cols [][]float64, along []float64) {
		for _, place := range places {
			c := w.white(s.bend(place.at))
			b.off(c)
			cols, along = append(cols, c), append(along, floats.Dot(y, c))
		}
		return cols, along
	}
	// add takes sizes, one or two, with the cofactors of their covariance and its determinant.
	add := func(place int, width, determinant, explained float64, sizes, cofactors []float64) {
		left := max(rest-explained, rest*1e-12, math.SmallestNonzeroFloat64)
		own, share := max(free-float64(len(sizes)), 1), width*width/determinant
		for i, size := range sizes {
			share /= max(size*size, left/own*cofactors[i])
		}
		log := n.log - (w.logs+b.logs-math.Log(share)+own*math.Log(left))/2
		out = append(out, guess{log, sizes[0], left / max(own-2, 1) * cofactors[0], place})
	}
	cols, along := columns(places)
	other, across := columns(beside)
	for i, c := range cols {
		g, a := floats.Dot(c, c), along[i]
		if len(beside) == 0 && g > math.SmallestNonzeroFloat64 {
			add(i, places[i].width, g, a*a/g, []float64{a / g}, []float64{1 / g})
		}
		for j, o := range other {
			h, q, d := floats.Dot(c, o), floats.Dot(o, o), across[j]
			apart := beside[j].at - places[i].at
			if after {
				apart = -apart
			}
			if determinant := g*q - h*h; determinant > tiny*g*q && apart > s.brief {
				add(i, places[i].width*beside[j].width, determinant, (a*a*q-2*a*d*h+d*d*g)/determinant, []float64{(a*q - d*h) / determinant, (d*g - a*h) / determinant}, []float64{q / determinant, g / determinant})
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
