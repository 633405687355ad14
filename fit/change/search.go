package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// jump is a change, or none.
type jump struct {
	gain  float64 // by how much twice the log likelihood passes its bar over that of a train without a change
	value float64 // twice the log likelihood
	noise noise
	at    []int   // the first point of each stretch but the first
	moved float64 // how far it moves the values, at most
}

// noise is how much the walk of the phase and that of the period add up to over the record, as variances in units of one
// point's white noise.
type noise struct{ walk, wander float64 }

var (
	walks   = []float64{0, 0.1, 0.3, 1, 3, 10, 30, 100, 300, 1e3, 1e4, 1e5, 1e6}
	wanders = []float64{0, 0.3, 1, 3, 10, 30, 100, 300, 1e3, 3e3, 1e4, 1e5, 1e6, 1e7, 1e8}
)

// bends is the degree of the polynomial that a train without a change may follow: steady, drifting, bending.
const bends = 2

// search compares the hypotheses: a change must be so much better than a steady train, or one that drifts, that jitter and a
// random walk would not show it by chance, and better than what else would bend the phase: a further slope, a wandering
// period.
func (s *series) search() jump {
	first := 0
	if s.phase {
		first = 1
	}
	at := s.candidates()
	best := jump{}
	_, flat := s.likeliest(first, nil, 1)
	for degree := first; degree < first+bends; degree++ {
		noise, base := s.likeliest(degree, nil, 1)
		if degree > first && base < flat+drifting {
			break
		}
		f := s.beyond(degree, noise, base, at)
		if f.gain <= 0 || f.gain <= best.gain {
			continue
		}
		margin := func(share, least float64) float64 {
			if len(f.at) > 1 {
				least += returnBar - jumpBar
			}
			return min(max(share*(f.value-base), least), marginMost)
		}
		rival := math.Inf(-1)
		for d := degree + 1; d <= first+bends; d++ {
			_, v := s.likeliest(d, nil, 1)
			rival = max(rival, v+margin(slopeShare, bendMargins[d-degree-1]))
		}
		for _, form := range s.warming {
			_, v := s.likeliest(degree, form, 1)
			rival = max(rival, v+margin(slopeShare, warmingMargin))
		}
		if s.phase {
			_, v := s.likeliest(degree, nil, 2)
			_, with := s.likeliest(degree, s.form(f.at), 2)
			rival = max(rival, v+margin(wanderShare, wanderMargin)-(with-f.value))
		}
		if f.value > rival {
			f.at = s.settle(f.noise, degree, f.at)
			best = f
		}
	}
	return best
}

// beyond finds the best change of a train that is a polynomial of the given degree, and by how much it passes its bar over
// the base, the polynomial alone. It is sought under the noise that is likeliest without it, under white noise and under one
// with all walks, and then again under the noise that it leaves.
func (s *series) beyond(degree int, free noise, base float64, at []int) (best jump) {
	few := fewBar / float64(len(s.y))
	bars := [2]float64{jumpBar*s.coarse + few, returnBar*s.coarse + few}
	white, _ := s.likeliest(degree, nil, 0)
	all, _ := s.likeliest(degree, nil, 2)
	var tried []noise
	for _, n := range []noise{free, white, all} {
		for again := range 2 {
			if slices.Contains(tried, n) {
				break
			}
			tried = append(tried, n)
			one, two, promise := s.scan(n, degree, at)
			if again == 0 && promise < base+hopeless {
				break
			}
			for k, places := range [][]int{two, one} {
				if places == nil {
					continue
				}
				places = s.settle(n, degree, places)
				form := s.form(places)
				left, value := s.likeliest(degree, form, 1)
				gain := value - base - bars[len(places)-1]
				if left.walk < free.walk/10 {
					gain -= inPlace * float64(len(places))
				}
				if gain > best.gain {
					best = jump{gain, value, left, places, s.moved(left, degree, form)}
				}
				if k == 1 {
					n = left
				}
			}
		}
	}
	return best
}

// likeliest finds the noise under which twice the log likelihood of a polynomial and a change of the given form (nil: none)
// is largest. kinds is how many kinds of walk the noise may have. The likelihood has one hill over the two, as good as
// always; it is climbed from below and from above.
func (s *series) likeliest(degree int, form []float64, kinds int) (best noise, value float64) {
	most := [2]int{len(walks) - 1, len(wanders) - 1}
	if kinds < 2 || !s.phase {
		most[1] = 0 // the walk of a time itself is that of the period
	}
	if kinds < 1 {
		most[0] = 0
	}
	known := map[[2]int]float64{}
	at := func(i [2]int) float64 {
		if v, ok := known[i]; ok {
			return v
		}
		w := s.filter(noise{walks[i[0]], wanders[i[1]]})
		y := w.white(s.y)
		b := s.basis(w, degree)
		if form != nil {
			b.add(w.white(form))
		}
		b.off(y)
		known[i] = worth(floats.Dot(y, y), len(y), w)
		return known[i]
	}
	value = math.Inf(-1)
	for _, i := range [][2]int{{}, {most[0] / 2, most[1] / 2}} {
		for step := 4; step > 0; {
			top, better := i, at(i)
			for k := range i {
				for _, d := range []int{-step, step} {
					if j := i; j[k]+d >= 0 && j[k]+d <= most[k] {
						if j[k] += d; at(j) > better {
							top, better = j, at(j)
						}
					}
				}
			}
			if top == i {
				step /= 2
			}
			i = top
		}
		if at(i) > value {
			best, value = noise{walks[i[0]], wanders[i[1]]}, at(i)
		}
	}
	return best, value
}

// worth is twice the log likelihood of whitened residuals, but for a constant; their common scale is the likeliest.
func worth(rss float64, n int, w *whitening) float64 {
	return -float64(n)*math.Log(max(rss, 1e-300)/float64(n)) - w.logs
}

// basis are the whitened powers up to a degree.
func (s *series) basis(w *whitening, degree int) *basis {
	b := &basis{}
	for k := range degree + 1 {
		b.add(w.white(s.powers[k]))
	}
	return b
}

// scan finds the best place of a jump and the best two of a jump and a return under one noise, and what the better is worth.
func (s *series) scan(n noise, degree int, at []int) (one, two []int, value float64) {
	w := s.filter(n)
	b := s.basis(w, degree)
	y := w.white(s.y)
	b.off(y)
	cols := make([][]float64, len(at))
	a, g := make([]float64, len(at)), make([]float64, len(at))
	single, pair := 0.0, 0.0
	for i, k := range at {
		c := w.white(s.form([]int{k}))
		b.off(c)
		cols[i], a[i], g[i] = c, floats.Dot(y, c), floats.Dot(c, c)
		if g[i] > tiny && a[i]*a[i]/g[i] > single {
			single, one = a[i]*a[i]/g[i], []int{k}
		}
	}
	for i := range at {
		for k := i + 1; k < len(at); k++ {
			if at[k]-at[i] < s.shortest {
				continue
			}
			d := a[i] - a[k]
			if d*d <= pair*tiny {
				continue
			}
			if q := g[i] + g[k] - 2*floats.Dot(cols[i], cols[k]); q > tiny && d*d/q > pair {
				pair, two = d*d/q, []int{at[i], at[k]}
			}
		}
	}
	return one, two, worth(max(floats.Dot(y, y)-max(single, pair), 0), len(y), w)
}

// settle moves the places of a change to the likeliest ones near them: those looked at before lie apart.
func (s *series) settle(n noise, degree int, at []int) []int {
	w := s.filter(n)
	b := s.basis(w, degree)
	y := w.white(s.y)
	b.off(y)
	worth := func(at []int) float64 {
		c := w.white(s.form(at))
		b.off(c)
		if q := floats.Dot(c, c); q > tiny {
			return floats.Dot(y, c) * floats.Dot(y, c) / q
		}
		return 0
	}
	at = slices.Clone(at)
	reach := len(s.y)/places + 1
	for range 2 {
		for i, from := range at {
			best := worth(at)
			for k := max(from-reach, s.shortest); k <= min(from+reach, len(s.y)-s.shortest); k++ {
				try := slices.Clone(at)
				try[i] = k
				if len(try) == 2 && try[1]-try[0] < s.shortest {
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

// moved is the range of what the change adds to the values beyond the polynomial.
func (s *series) moved(n noise, degree int, form []float64) float64 {
	w := s.filter(n)
	b := s.basis(w, degree)
	y, c := w.white(s.y), w.white(form)
	b.off(y)
	b.off(c)
	q := floats.Dot(c, c)
	if q <= tiny {
		return 0
	}
	size := floats.Dot(y, c) / q
	plain := s.plain(degree)
	form = slices.Clone(form)
	plain.off(form)
	return math.Abs(size) * (slices.Max(form) - slices.Min(form))
}

const tiny = 1e-9

// candidates are the points that a stretch may begin at.
func (s *series) candidates() []int {
	first, last := s.shortest, len(s.y)-s.shortest
	step := max(float64(last-first)/places, 1)
	var out []int
	for k := float64(first); k <= float64(last); k += step {
		if at := int(k); len(out) == 0 || at > out[len(out)-1] {
			out = append(out, at)
		}
	}
	return out
}

// form is that of a change that begins at the first place, and ends at the second where there is one.
func (s *series) form(at []int) []float64 {
	v := make([]float64, len(s.x))
	for j, k := range at {
		from, sign := (s.x[k-1]+s.x[k])/2, float64(1-2*j)
		for i := k; i < len(v); i++ {
			if s.phase {
				v[i] += sign * (s.x[i] - from)
			} else {
				v[i] += sign
			}
		}
	}
	return v
}

// whitening turns values with the noise into independent ones of unit variance (a Kalman filter's innovations).
type whitening struct {
	gain  [][2]float64
	scale []float64
	step  []float64
	logs  float64 // sum of the logarithms of the innovations' variances
}

func (s *series) filter(noise noise) *whitening {
	walk, wander := noise.walk, noise.wander
	n := len(s.x)
	w := &whitening{gain: make([][2]float64, n), scale: make([]float64, n), step: make([]float64, n)}
	var p [3]float64 // covariance of the phase and its slope: 00, 01, 11
	for i := range n {
		if i > 0 {
			d := s.x[i] - s.x[i-1]
			w.step[i] = d
			p[0] += 2*d*p[1] + d*d*p[2] + walk*d + 3*wander*d*d*d/3
			p[1] += d*p[2] + 3*wander*d*d/2
			p[2] += 3 * wander * d
		}
		v := p[0] + s.white[i]
		if i > 0 {
			v -= s.smooth * walk * w.step[i]
		}
		w.gain[i] = [2]float64{p[0] / v, p[1] / v}
		w.scale[i] = 1 / math.Sqrt(v)
		w.logs += math.Log(v)
		p = [3]float64{p[0] * (1 - w.gain[i][0]), p[1] * (1 - w.gain[i][0]), p[2] - w.gain[i][1]*p[1]}
	}
	return w
}

// white gives the innovations of y.
func (w *whitening) white(y []float64) []float64 {
	out := make([]float64, len(y))
	var phase, slope float64
	for i, v := range y {
		phase += slope * w.step[i]
		e := v - phase
		out[i] = e * w.scale[i]
		phase += w.gain[i][0] * e
		slope += w.gain[i][1] * e
	}
	return out
}

// basis holds orthonormal columns.
type basis struct{ cols [][]float64 }

// plain is the basis of the powers themselves.
func (s *series) plain(degree int) *basis {
	b := &basis{}
	for k := range degree + 1 {
		b.add(slices.Clone(s.powers[k]))
	}
	return b
}

// add takes another column; it is changed.
func (b *basis) add(v []float64) {
	b.off(v)
	b.off(v) // once more: rounding
	if q := math.Sqrt(floats.Dot(v, v)); q > 0 {
		for i := range v {
			v[i] /= q
		}
	}
	b.cols = append(b.cols, v)
}

// off takes the part along the columns off v.
func (b *basis) off(v []float64) {
	for k := range b.cols {
		b.one(k, v)
	}
}

func (b *basis) one(k int, v []float64) {
	c := b.cols[k]
	q := floats.Dot(c, v)
	for i := range v {
		v[i] -= q * c[i]
	}
}
