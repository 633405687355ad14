package transition

import (
	"math"
	"slices"
)

// Refiner moves edges from their interpolated crossing to the one that all samples on the slope agree on: the least
// squares fit of the form that the edges of this polarity have. Interpolation uses two samples only, so with amplitude
// noise and many samples on the slope it scatters more than it must. What the fit assumes of the levels and of the
// form is accumulated over all edges and comes back as a correction (Summary).
type Refiner struct {
	forms [2]*form // falling [0] and rising [1] edges; nil: these stay as they are
	low   float64
	high  float64
	reach float64 // samples further from their level are none of its plateau

	tail  []float64 // the latest samples
	times []float64
	end   int64 // row after the latest sample
	wait  []Edge
	last  Edge // the latest edge that was finished
	any   bool
	level [2]sum // samples of the low and of the high plateaus
	win   window
}

// sum of deviations from a nominal level.
type sum struct{ n, total float64 }

// scatter is of residuals at one height of the slope: how many, their sum, that of their squares, and of what fitting the crossings left of
// each square.
type scatter struct{ n, sum, squares, left float64 }

// form is the fitted form of the edges of one polarity.
type form struct {
	profile
	scale         float64 // unit of the edges' times
	cell          float64 // distance between samples
	before, after float64 // how far the window reaches from the crossing

	edges, samples  float64
	square          float64    // of residuals
	info            float64    // Σ (dg/dt)²: the inverse of the crossing's variance for samples of unit variance
	drift, stiff    float64    // Σ e h, Σ h h: h is the change with the scale that no shift of the edge explains
	coupling        float64    // Σ of the shift that goes with a change of the scale
	pull, bend      [2]float64 // how an error of the level where the edges start, and where they end, moves the crossing and drift
	middle, weights float64    // Σ e g', Σ g' g' of the samples near 50 %
	lean            float64    // Σ h g' of the same
	around          [slopeBins]scatter
}

const (
	slow       = 0.60  // edges that rise by less over their cell have enough samples on the slope
	mostPoints = 512   // points of a window; more samples are averaged in groups
	mostReach  = 16384 // samples of a window; slower edges stay as they are
	rounds     = 8     // of the fit of one edge
	plateau    = 32    // samples taken of each plateau, at least, and
	perSample  = 8     // for each sample on the slope
	nearMiddle = 0.2   // the samples that say where 50 % is lie this close to it
	onSlope    = 0.3   // and those of which the noise is no level's
	slopeBins  = 6     // of the height of the slope, each with a mean of its own: what all edges have is form, not noise
	mostLever  = 0.7   // samples that the crossing hangs on by more say nothing of noise
)

// window holds the samples about one edge: time from the interpolated crossing, value from 0 to 1 along the edge, and
// how many samples each is the mean of.
type window struct{ x, y, n []float64 }

// Levels are the state levels that the samples are compared with.
func (r *Refiner) Levels() (low, high float64) { return r.low, r.high }

// Revise changes the levels; what was accumulated about the old ones is dropped.
func (r *Refiner) Revise(low, high float64) {
	r.low, r.high, r.level = low, high, [2]sum{}
}

// Take refines the edges found in the samples v, the first of which is row first and which lie one apart or at the
// times t, and appends those that are finished to out. An edge too near the end waits for the next samples.
func (r *Refiner) Take(first int64, t, v []float64, edges, out []Edge) []Edge {
	if first != r.end {
		out = r.Flush(out)
		r.tail, r.times = r.tail[:0], r.times[:0]
	}
	r.wait = append(r.wait, edges...)
	b := span{first: first, t: t, v: v, tail: r.tail, times: r.times}
	k := 0
	for ; k < len(r.wait); k++ {
		e := r.wait[k]
		f := r.forms[Polarity(e.Rise)]
		if f != nil && !e.Break && !b.reaches(e.X+f.after) {
			break
		}
		next := math.Inf(1)
		if k+1 < len(r.wait) {
			next = r.wait[k+1].X
		}
		out = append(out, r.finish(&b, e, next))
	}
	r.wait = append(r.wait[:0], r.wait[k:]...)
	r.keep(t, v)
	r.end = first + int64(len(v))
	return out
}

// Flush appends the edges that still wait, as far as their samples go.
func (r *Refiner) Flush(out []Edge) []Edge {
	b := span{first: r.end, tail: r.tail, times: r.times}
	for k, e := range r.wait {
		next := math.Inf(1)
		if k+1 < len(r.wait) {
			next = r.wait[k+1].X
		}
		out = append(out, r.finish(&b, e, next))
	}
	r.wait = r.wait[:0]
	return out
}

// Polarity numbers edges: 0 falls, 1 rises.
func Polarity(rise bool) int {
	if rise {
		return 1
	}
	return 0
}

// keep holds the latest samples back for edges that straddle the blocks.
func (r *Refiner) keep(t, v []float64) {
	n := 0
	for _, f := range r.forms {
		if f != nil {
			n = max(n, 4*int((f.before+f.after)/f.cell)+16)
		}
	}
	r.tail = lastOf(r.tail, v, n)
	if t != nil {
		r.times = lastOf(r.times, t, n)
	}
}

// lastOf is the last n values of a followed by b, in the memory of a.
func lastOf(a, b []float64, n int) []float64 {
	if len(b) >= n {
		return append(a[:0], b[len(b)-n:]...)
	}
	if drop := len(a) + len(b) - n; drop > 0 {
		a = append(a[:0], a[drop:]...)
	}
	return append(a, b...)
}

// finish refines one edge; next is the edge after it.
func (r *Refiner) finish(b *span, e Edge, next float64) Edge {
	if e.Break {
		r.any = false
		return e
	}
	k := Polarity(e.Rise)
	f := r.forms[k]
	from, to := math.Inf(-1), next
	if r.any {
		from = r.last.X
		r.plateau(b, r.last, e)
	}
	r.last, r.any = e, true
	if f == nil {
		return e
	}
	lo, hi := max(e.X-f.before, (from+e.X)/2), min(e.X+f.after, (to+e.X)/2)
	if !b.window(&r.win, e, lo, hi, r.low, r.high) {
		return e
	}
	shift, ok := f.locate(&r.win, 0)
	if !ok {
		return e
	}
	f.add(&r.win, shift)
	e.X += shift
	r.last.X = e.X
	return e
}

// plateau adds samples of the level between two edges.
func (r *Refiner) plateau(b *span, last, e Edge) {
	if last.Rise == e.Rise {
		return
	}
	left, right, want := 0.0, 0.0, float64(plateau)
	before, after := r.forms[Polarity(last.Rise)], r.forms[Polarity(e.Rise)]
	if before != nil {
		left = before.after
		want = max(want, perSample*before.scale/before.cell)
	}
	if after != nil {
		right = after.before
		want = max(want, perSample*after.scale/after.cell)
	}
	k, level, from := 0, r.low, r.high
	if last.Rise {
		k, level, from = 1, r.high, r.low
	}
	s := &r.level[k]
	b.each(last.X+left, e.X-right, int(want), func(x, v float64) {
		d := v - level
		if before != nil && before.at != nil { // what is left of the edge before
			g, _ := before.at((x - last.X) / before.scale)
			d -= (from - level) * (1 - g)
		}
		if math.Abs(d) <= r.reach {
			s.n++
			s.total += d
		}
	})
}

// locate fits the crossing to a window, from a first guess. ok is false when that does not settle near the
// interpolated crossing.
func (f *form) locate(w *window, shift float64) (float64, bool) {
	for range rounds {
		var up, down float64
		for i, x := range w.x {
			g, d := f.at((x - shift) / f.scale)
			d *= w.n[i]
			up += d * (w.y[i] - g)
			down += d * d / w.n[i]
		}
		if down == 0 {
			return shift, false
		}
		step := -up / down * f.scale
		step = min(max(step, -f.scale/2), f.scale/2)
		shift += step
		if math.Abs(step) < 1e-7*f.scale {
			break
		}
	}
	return shift, math.Abs(shift) < f.scale && !math.IsNaN(shift)
}

// add accumulates what a fitted edge shows of the form.
func (f *form) add(w *window, shift float64) {
	var gg, gh, hh, eh, ge, near, lean float64
	var gl, hl [2]float64
	for i, x := range w.x {
		z := (x - shift) / f.scale
		g, d := f.at(z)
		e := w.y[i] - g
		n := w.n[i]
		gt, hs := -d/f.scale, -d*z/f.scale // derivatives by the crossing's time and by the scale
		gg += n * gt * gt
		gh += n * gt * hs
		hh += n * hs * hs
		eh += n * e * hs
		ge += n * e * gt
		gl[0] += n * gt * (1 - g)
		gl[1] += n * gt * g
		hl[0] += n * hs * (1 - g)
		hl[1] += n * hs * g
		f.square += n * e * e
		f.samples++
		if math.Abs(g-0.5) < nearMiddle {
			f.middle += n * e * gt
			near += n * gt * gt
			lean += n * hs * gt
		}
	}
	f.scatter(w, shift, gg)
	f.edges++
	f.info += gg
	f.weights += near
	f.lean += lean - near*gh/gg
	f.drift += eh - ge*gh/gg
	f.stiff += hh - gh*gh/gg
	f.coupling += gh / gg
	for k := range gl {
		f.pull[k] -= gl[k] / gg
		f.bend[k] += hl[k] - gl[k]*gh/gg
	}
}

// scatter accumulates the residuals of the samples on the slope of a fitted edge; gg is Σ (dg/dt)² of its window.
func (f *form) scatter(w *window, shift, gg float64) {
	for i, x := range w.x {
		g, d := f.at((x - shift) / f.scale)
		lever := w.n[i] * d * d / (f.scale * f.scale * gg)
		if math.Abs(g-0.5) >= onSlope || lever > mostLever {
			continue
		}
		s, e := &f.around[int((g-0.5+onSlope)/(2*onSlope)*slopeBins)], w.y[i]-g
		s.n, s.sum, s.squares, s.left = s.n+1, s.sum+e, s.squares+w.n[i]*e*e, s.left+1-lever
	}
}

// slopeNoise is the variance of single samples on the slope beyond what all edges have in common, as a share of the amplitude squared, and
// of how many it is known.
func (f *form) slopeNoise() (variance, known float64) {
	squares := 0.0
	for _, s := range f.around {
		if s.n > 1 {
			squares += max(s.squares-s.sum*s.sum/s.n, 0)
			known += s.left * (1 - 1/s.n)
		}
	}
	return squares / max(known, 1), known
}

// Summary is what the edges of one polarity have shown.
type Summary struct {
	Info    float64 // mean inverse variance of a crossing for noise of one amplitude in each sample; unit of the edges^-2
	Noise   float64 // variance of the samples about the form, as a share of the amplitude squared
	Slope   float64 // of those on the slope alone, beyond what all edges have in common
	Known   float64 // of how many samples that is known
	Late    float64 // by how much all crossings are late: the form was not quite what was assumed
	LateU   float64 // standard uncertainty of that
	ByStart float64 // how much later the crossing seems for an error of the level that the edges start from, as a share of the amplitude
	ByEnd   float64 // and of the level that they go to
}

const (
	significant = 4.0 // standard deviations from which a bend near 50 % is believed against the profile,
	doubtful    = 2.0 // and from which all of it is doubt; below, the less of it the less it stands out
	looseScale  = 0.3 // relative standard uncertainty of the scale that was learnt, where the edges tell no better
)

// Summary of the falling or the rising edges; ok is false where they were not refined.
func (r *Refiner) Summary(rise bool) (s Summary, ok bool) {
	f := r.forms[Polarity(rise)]
	if f == nil || f.edges == 0 {
		return s, false
	}
	s = Summary{Info: f.info / f.edges}
	s.ByStart, s.ByEnd = f.pull[0]/f.edges, f.pull[1]/f.edges
	s.Noise = f.square / max(f.samples-f.edges-1, 1)
	s.Slope, s.Known = f.slopeNoise()
	v, scale := 0.0, 0.0
	if stiff := f.stiff + s.Noise/(looseScale*looseScale*f.scale*f.scale); stiff > 0 {
		k := f.coupling / f.edges
		scale = f.drift / stiff
		s.Late = k * scale
		v += k * k * s.Noise / stiff
		s.ByStart += k * f.bend[0] / stiff
		s.ByEnd += k * f.bend[1] / stiff
	}
	if f.weights > 0 {
		bend := (f.middle - scale*f.lean) / f.weights // a positive one asks for later crossings
		u := s.Noise * max(1/f.weights-1/f.info, 0)
		switch sure := bend * bend / u; {
		case sure > significant*significant:
			s.Late -= bend
			v += u + bend*bend/10
		case u > 0:
			v += bend * bend * min(sure/doubtful/doubtful, 1)
		}
	}
	s.LateU = math.Sqrt(v)
	return s, true
}

// Plateaus gives the mean of the samples of the low and of the high level and how many there were.
func (r *Refiner) Plateaus() (low, high float64, n [2]int) {
	mean := func(s sum) float64 { return s.total / max(s.n, 1) }
	return r.low + mean(r.level[0]), r.high + mean(r.level[1]), [2]int{int(r.level[0].n), int(r.level[1].n)}
}

// span is the samples at hand: those of the block, and before it the tail of the ones before.
type span struct {
	first       int64 // row of v[0]
	t, v        []float64
	tail, times []float64
}

func (b *span) len() int { return len(b.tail) + len(b.v) }

func (b *span) value(i int) float64 {
	if i < len(b.tail) {
		return b.tail[i]
	}
	return b.v[i-len(b.tail)]
}

func (b *span) timed() bool { return b.t != nil || len(b.times) > 0 }

func (b *span) time(i int) float64 {
	switch {
	case !b.timed():
		return float64(b.first + int64(i-len(b.tail)))
	case i < len(b.tail):
		return b.times[i]
	}
	return b.t[i-len(b.tail)]
}

// row is the first sample at or after x.
func (b *span) row(x float64) int {
	if !b.timed() {
		i := math.Ceil(x - float64(b.first-int64(len(b.tail))))
		return int(min(max(i, 0), float64(b.len())))
	}
	if len(b.times) > 0 && x <= b.times[len(b.times)-1] {
		i, _ := slices.BinarySearch(b.times, x)
		return i
	}
	i, _ := slices.BinarySearch(b.t, x)
	return len(b.tail) + i
}

// reaches tells whether the samples go beyond x.
func (b *span) reaches(x float64) bool { return b.len() > 0 && b.time(b.len()-1) >= x }

// window copies the samples from lo to hi about the edge; false if one of them is not finite or they do not reach to
// both sides.
func (b *span) window(w *window, e Edge, lo, hi, low, high float64) bool {
	w.x, w.y, w.n = w.x[:0], w.y[:0], w.n[:0]
	from, to := b.row(lo), b.row(hi)
	if to-from < 4 || from == 0 && b.time(0) > lo+2*e.Cell {
		return false
	}
	group := (to-from)/mostPoints + 1
	if !e.Rise {
		low, high = high, low
	}
	for i := from; i+group <= to; i += group {
		var x, y float64
		for j := i; j < i+group; j++ {
			x += b.time(j) - e.X
			y += b.value(j)
		}
		n := float64(group)
		y = (y/n - low) / (high - low)
		if math.IsNaN(y) || math.IsInf(y, 0) {
			return false
		}
		w.x, w.y, w.n = append(w.x, x/n), append(w.y, y), append(w.n, n)
	}
	return true
}

// each visits about n samples between lo and hi at even distances.
func (b *span) each(lo, hi float64, n int, visit func(x, v float64)) {
	from, to := b.row(lo), b.row(hi)
	if lo < b.time(0) {
		return // only a part of the plateau is at hand
	}
	step := max((to-from)/n, 1)
	for i := from; i < to; i += step {
		visit(b.time(i), b.value(i))
	}
}
