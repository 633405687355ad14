package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Course is how the period of a train runs where it does not jump.
type Course int

// Wanders is to and fro, or as it warms up: a random walk or an exponential approach is likelier than a straight line.
const (
	Steady Course = iota
	Drifts
	Wanders
)

// jump is a change, or none.
type jump struct {
	gain        float64 // by how much the log of its odds passes the bar
	at          []int   // the first point of each stretch but the first
	alike       bool    // a train that warms up or wanders would look much the same
	probability float64 // that it is one, where a drift is not told from it; 0: it is told
	drift       float64 // probability that such a jump lies beside one
}

const (
	clearly    = 4.2 // of a jump, against one that drifts,
	moving     = 5.9 // and of one that warms up or wanders, against one that is steady or drifts
	bent       = 1.0 // and of a jump against one that warms up or wanders;
	sure       = 5.0 // below that it is said that one would look much the same
	places     = 40  // where a change is looked for at first
	screened   = 1.0 // and of a first look at few noises
	most       = 6   // rounds of changes that are taken for given
	chosen     = 2.0 // that places chosen by their likelihood may add to the odds
	unlikely   = 0.1 // is a jump that is not told beside a drift
	sizes      = 7.0 // log of the range of the sizes that a change or a drift may have, in their uncertainties
	negligible = 40  // in the logarithm of a sum
	slight     = 12  // and of one of a thousand places
)

// least is the log of the likelihood averaged over the size of a column that stands out by its uncertainty, over the largest.
var least = math.Log(math.Sqrt(2*math.Pi) / (2 * sizes))

// The prior shares of a train that drifts, and of one that warms up, where nothing changes; and of one that drifts where
// something does.
const (
	driftShare, warmingShare = 0.6, 0.1
	alsoDrifts               = 0.1
	forGood                  = 0.45 // of changes without a return
)

// search asks whether the train changes at all, and then how: by a jump, or a jump and a return, each on a steady train or one that
// drifts, or without one, by a drift or as it warms up. Odds are of likelihoods averaged over the noise, the places, and a log-uniform
// prior of each size (the odds of a change, where there is none, pass K in one record of K at most, and do so far seldomer). What is no
// clear jump is one with a probability. Small changes look like a train that warms up or wanders, and no record tells which: the odds
// against those may be less. There may be more changes than two, also where a train whose period keeps still would have to change but one
// that wanders need not: the likeliest are taken for given, and others sought besides.
func (s *series) search() (jump, Course) {
	at := s.promising()
	l := s.weigh(grid, at, nil)
	inside := func(l *looked) float64 { return l.change.and(l.slope).over(l.asked) }
	still := !(inside(l) > 0)
	if !still && at != nil && inside(l) < chosen {
		still = !(inside(s.weigh(grid, s.candidates(places), nil)) > 0)
	}
	if still && l.smooth.over(l.calm()) <= moving*s.coarse {
		return jump{}, Steady
	}
	if told := s.rounds(l, at); told.at != nil {
		return told, Steady
	}
	if l.smooth.over(l.calm()) > moving*s.coarse {
		return jump{}, Wanders
	}
	p, alone := 1/(1+math.Exp(-l.change.over(l.slope.and(l.smooth)))), *s
	alone.degree = l.degree
	if p > unlikely {
		if places := s.settle(l.noise, l.degree, l.places()); alone.moves(l.degree, places) {
			return jump{0, places, false, p, math.Exp(l.beside.over(l.change))}, Drifts
		}
	}
	return jump{}, Drifts
}

// rounds seek changes at some points, where the first look has been, the likeliest being taken for given in the next round: they are told once
// a train that wanders would have to change as well; more of them where that is clear, and without those that the others do as well without.
func (s *series) rounds(first *looked, at []int) (told jump) {
	l, none, given, free := first, first, []int(nil), at
	for range most {
		gain := min(l.change.over(none.asked), l.change.over(none.slope)-clearly*s.coarse)
		if !(gain >= 0) {
			break // or no place is left
		}
		change, smooth := l.change.over(first.smooth)/s.coarse, l.change.over(none.smooth)/s.coarse
		enough := smooth > map[bool]float64{true: bent, false: sure}[told.at == nil]
		more := s.settle(l.noise, l.degree, slices.Concat(given, l.places()))
		if enough && given != nil {
			more = s.standing(l.noise, l.degree, more)
		}
		if slices.Equal(more, told.at) || enough && !s.moves(l.degree, more) {
			break
		}
		given = more
		free = slices.DeleteFunc(slices.Clone(free), func(k int) bool {
			return slices.ContainsFunc(given, func(g int) bool { return max(k-g, g-k) < s.shortest })
		})
		if l = s.weigh(grid, free, given); enough {
			if none = l; told.at == nil {
				told.gain = gain
			}
			told.at, told.alike = given, change < sure || len(given) == 1 && !stands(s.sizes(given)[0])
		}
	}
	return told
}

// promising are the points that changes are looked for at, with those that suit each of few noises best: a large change stands out
// at its own place alone. nil where none suits, or all of them together do not.
func (s *series) promising() (at []int) {
	coarse := s.candidates(places / 2)
	for _, n := range few {
		if l := s.weigh([]weighed{n}, coarse, nil); l.change.over(l.steady.and(l.smooth)) > screened {
			at = append(at, s.settle(l.noise, l.degree, l.places())...)
		}
	}
	if len(at) == 0 {
		return nil
	}
	at = append(at, s.candidates(places)...)
	slices.Sort(at)
	at = slices.Compact(at)
	if l := s.weigh(few, at, nil); l.change.over(l.steady) < screened {
		return nil
	}
	return at
}

// sum is of numbers given by their logarithms.
type sum struct{ top, of float64 }

func (s *sum) add(log float64) {
	if log > s.top {
		s.of, s.top = s.of*math.Exp(s.top-log)+1, log
	} else if log > s.top-negligible {
		s.of += math.Exp(log - s.top)
	}
}

// over is the log of the ratio of two sums.
func (s sum) over(o sum) float64 { return s.top - o.top + math.Log(s.of/o.of) }

// looked are the likelihoods of a steady train, of one that drifts, of one that warms up or wanders, and of a change; and the likeliest
// change.
type looked struct {
	steady, slope, smooth, change sum
	asked                         sum // of a steady train, times the odds that are asked against it
	beside                        sum // of the changes those beside a drift
	best                          float64
	noise                         noise
	degree                        int
	at                            [2]int // the second is 0 for one jump
}

// and is the sum of two.
func (s sum) and(o sum) sum {
	if o.of > 0 {
		s.add(o.top + math.Log(o.of))
	}
	return s
}

// calm is that of a train that is steady or drifts.
func (l *looked) calm() sum { return l.steady.and(l.slope) }

func (l *looked) places() []int {
	if l.at[1] == 0 {
		return l.at[:1]
	}
	return l.at[:]
}

// weigh looks at the changes at the points at, beside those that are given, under each noise.
func (s *series) weigh(all []weighed, at, given []int) *looked {
	never := sum{top: math.Inf(-1)}
	l := &looked{never, never, never, never, never, never, math.Inf(-1), noise{}, 0, [2]int{}}
	forms := make([][]float64, len(at))
	for i, k := range at {
		forms[i] = s.form(k)
	}
	for _, n := range all {
		if n.wander == 0 || s.phase { // the walk of a time itself is that of the period
			s.under(n, at, given, forms, l)
		}
	}
	return l
}

// under adds what is seen under one noise.
func (s *series) under(n weighed, at, given []int, forms [][]float64, l *looked) {
	first := s.first()
	w := s.filter(n.noise)
	b := s.basis(w, first)
	y := w.white(s.y)
	b.off(y)
	free, rest := float64(len(y)-first-1), max(floats.Dot(y, y), math.SmallestNonzeroFloat64)
	base := s.share(n) - (w.logs+b.logs+free*math.Log(rest))/2
	// sized is the log of the likelihood, averaged over the size of a column whose square with the rest is d, over that without.
	sized := func(d, rest float64) float64 {
		left := max(rest-d, rest*1e-12)
		log := free/2*math.Log(rest/left) + least
		if z2 := d / left * (free - 1); z2 > 1 {
			log -= math.Log(z2) / 2
		}
		return log
	}
	for _, k := range given {
		c := w.white(s.form(k))
		b.add(c)
		d := floats.Dot(y, c)
		base += sized(d*d, rest) - math.Log(float64(len(at)))
		free--
		rest = max(rest-d*d, rest*1e-12)
		b.off(y)
	}
	slope, drifts := w.white(s.powers[first+1]), &basis{cols: slices.Clone(b.cols)}
	drifts.add(slope)
	ys := floats.Dot(y, slope)
	left := max(rest-ys*ys, rest*1e-12)
	drift := sized(ys*ys, rest)
	still, slopes := &l.steady, &l.slope
	if n.wander > 0 {
		still, slopes = &l.smooth, &l.smooth
	} else {
		l.asked.add(base + math.Log(1-driftShare-warmingShare) + s.asked(n.walk))
	}
	still.add(base + math.Log(1-driftShare-warmingShare))
	slopes.add(base + drift + math.Log(driftShare))
	for _, form := range s.warming {
		c := w.white(form)
		drifts.off(c)
		drifts.off(c)
		d := floats.Dot(y, c)
		l.smooth.add(base + drift + sized(d*d/max(floats.Dot(c, c), math.SmallestNonzeroFloat64), left) + math.Log(warmingShare/float64(len(s.warming))))
	}
	k := len(at)
	cols, a, g, h := make([][]float64, k), make([]float64, k), make([]float64, k), make([]float64, k)
	for i := range at {
		c := w.white(forms[i])
		b.off(c)
		cols[i], a[i], g[i], h[i] = c, floats.Dot(y, c), floats.Dot(c, c), floats.Dot(slope, c)
	}
	pairs := 0.0 // the shorter the likelier: of each length as many
	for i := range at {
		for j := i + 1; j < k; j++ {
			if at[j]-at[i] >= s.shortest {
				pairs += 1 / float64(at[j]-at[i])
			}
		}
	}
	ofDegree := [2]float64{base + math.Log(1-alsoDrifts), base + drift + math.Log(alsoDrifts)}
	add := func(places [2]int, a, g, h, share float64) {
		for degree, log := range ofDegree {
			q, d, r := g, a, rest
			if degree == 1 {
				q, d, r = g-h*h, a-ys*h, left
			}
			if q <= tiny*g || g <= tiny {
				continue
			}
			log += share
			if d *= d / q; log+least+free/2*d/max(r-d, r*1e-12) < l.change.top-slight {
				continue // the logarithm is no more than that
			}
			log += sized(d, r)
			if l.change.add(log); degree == 1 {
				l.beside.add(log)
			}
			if log > l.best {
				l.best, l.noise, l.degree, l.at = log, n.noise, first+degree, places
			}
		}
	}
	single, pair := math.Log(forGood/float64(k)), math.Log((1-forGood)/pairs)
	logs := make([]float64, len(s.y)) // of lengths
	for i := range at {
		add([2]int{at[i]}, a[i], g[i], h[i], single)
		for j := i + 1; j < k; j++ {
			length := at[j] - at[i]
			if length < s.shortest {
				continue
			}
			if logs[length] == 0 {
				logs[length] = math.Log(float64(length))
			}
			add([2]int{at[i], at[j]}, a[i]-a[j], g[i]+g[j]-2*floats.Dot(cols[i], cols[j]), h[i]-h[j], pair-logs[length])
		}
	}
}

// worth gives what changes at some points, each of its own size, take off the squares beside the polynomial, and those squares.
func (s *series) worth(n noise, degree int) (of func(at []int) float64, squares float64) {
	w := s.filter(n)
	b := s.basis(w, degree)
	y := w.white(s.y)
	b.off(y)
	cols := map[int][]float64{}
	return func(at []int) (sum float64) {
		own := basis{}
		for _, k := range at {
			if cols[k] == nil {
				cols[k] = w.white(s.form(k))
				b.off(cols[k])
			}
			c := slices.Clone(cols[k])
			own.add(c)
			sum += floats.Dot(y, c) * floats.Dot(y, c)
		}
		return sum
	}, floats.Dot(y, y)
}

// settle moves the places of a change to the likeliest ones near them, each of its own size: those looked at before lie apart.
func (s *series) settle(n noise, degree int, at []int) []int {
	worth, _ := s.worth(n, degree)
	at = slices.Sorted(slices.Values(at))
	reach := 2*len(s.y)/places + 1
	best := worth(at)
	for range 2 {
		for i, from := range at {
			for k := max(from-reach, s.shortest); k <= min(from+reach, len(s.y)-s.shortest); k++ {
				try := slices.Clone(at)
				if try[i] = k; i > 0 && k-at[i-1] < s.shortest || i < len(at)-1 && at[i+1]-k < s.shortest {
					continue
				}
				if v := worth(try); v > best {
					best, at = v, try
				}
			}
		}
	}
	return at
}

// standing leaves out, one by one, the changes without which the others do nearly as well, and the lesser one beside a change: a time jumps
// anywhere in a cycle, or in an average of cycles, and it makes up for that.
func (s *series) standing(n noise, degree int, at []int) []int {
	worth, squares := s.worth(n, degree)
	for len(at) > 1 {
		all := worth(at)
		u2 := (squares - all) / float64(len(s.y)-degree-1-len(at))
		z2, out, least := make([]float64, len(at)), 0, float64(clear*clear)
		for i := range at {
			if z2[i] = (all - worth(slices.Delete(slices.Clone(at), i, i+1))) / u2; z2[i] < least {
				out, least = i, z2[i]
			}
		}
		for i := 1; i < len(at) && least == clear*clear; i++ {
			if a, b := z2[i-1], z2[i]; at[i]-at[i-1] <= briefest && min(a, b) < max(a, b)/4 {
				out, least = i, 0
				if a < b {
					out = i - 1
				}
			}
		}
		if least == clear*clear {
			break
		}
		at = s.settle(n, degree, slices.Delete(slices.Clone(at), out, out+1))
	}
	return at
}

// moves reports whether what changes at some points add to the values beyond the polynomial is more than their rounding may be.
func (s *series) moves(degree int, at []int) bool {
	return s.least == 0 || s.moved(degree, at, s.sizes(at)) > s.least
}

// moved is the range of what changes of some sizes add to the values beyond the polynomial.
func (s *series) moved(degree int, at []int, sizes []Size) float64 {
	sum := make([]float64, len(s.y))
	for k, place := range at {
		floats.AddScaled(sum, sizes[k].By*s.unit, s.form(place))
	}
	return s.beyond(sum, degree)
}

// candidates are so many points that a stretch may begin at.
func (s *series) candidates(places float64) []int {
	first, last := s.shortest, len(s.y)-s.shortest
	step := max(float64(last-first)/places, 1)
	var out []int
	for k := float64(first); k <= float64(last); k += step {
		out = append(out, int(k))
	}
	return out
}
