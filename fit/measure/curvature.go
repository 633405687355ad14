package measure

import (
	"math"

	"offbeat/fit/budget"
	"offbeat/fit/train"
)

// A straight line between two samples meets a curved edge's crossing early or late. Over all places of the
// crossing between the samples the mean error does not vanish, and it differs between rising and falling edges, so
// averaging does not remove it. It goes with how far the mean of the two samples lies from the reference: nothing for
// edges that are symmetric about their middle, and for a first-order lag as computed here.

// lag holds, for an edge of time constant tau (in samples) that starts from rest: mean rise between the two
// samples, mean of the two less one half, and mean error of the crossing in samples.
type lag struct{ sharpness, mid, late float64 }

func newLag(tau float64) (l lag) {
	const n = 256
	value := func(x float64) float64 { // x from the 50 % crossing
		if x < -tau*math.Ln2 {
			return 0
		}
		return 1 - math.Exp(-x/tau)/2
	}
	for i := range n {
		u := (float64(i) + 0.5) / n
		a, b := value(-u), value(1-u)
		l.sharpness += (b - a) / n
		l.mid += ((a+b)/2 - 0.5) / n
		l.late += ((0.5-a)/(b-a) - u) / n
	}
	return l
}

// lagOf finds the lag whose edges are as sharp as given.
func lagOf(sharpness float64) lag {
	lo, hi := math.Log(1e-3), math.Log(1e3)
	for range 40 {
		mid := (lo + hi) / 2
		if newLag(math.Exp(mid)).sharpness > sharpness {
			lo = mid
		} else {
			hi = mid
		}
	}
	return newLag(math.Exp(lo))
}

const (
	straight   = 0.9995 // edges sharper than this have no visible shape
	shapeError = 0.3    // part of the correction that the lag as the model of a curved edge may be wrong by
)

// late estimates by how many samples the crossings of one polarity are late, with its standard uncertainty.
// jitter is the variance of the edges' white noise in samples², levels the uncertainty of the reference as a
// share of the amplitude.
func late(s train.Shape, jitter, levels float64) (value, u float64) {
	if s.Edges == 0 || s.Sharpness > straight {
		return 0, 0
	}
	l := lagOf(s.Sharpness)
	ratio := l.late / l.mid
	value = ratio * s.Mid
	sampling := math.Hypot(s.Sharpness*math.Sqrt(places(s, jitter)), levels)
	u = math.Hypot(ratio*sampling, shapeError*value)
	// No edge is more curved than the lag itself: what the mid values cannot tell is bounded by that.
	k := l.late * l.late / (l.late*l.late + u*u)
	return k * value, math.Sqrt(k) * u
}

// places is the variance of the mean place of the crossings between two samples, about one half: what is seen of
// the first harmonics stays, noise adds its share of each, and averages.
func places(s train.Shape, jitter float64) float64 {
	v := 0.0
	for m := 1; m <= 50; m++ {
		k := 2 * math.Pi * math.Pi * float64(m*m)
		if m <= len(s.Crowding) {
			v += s.Crowding[m-1] * s.Crowding[m-1] / k
		}
		v += (1 - math.Exp(-2*k*jitter)) / k / float64(s.Edges)
	}
	return v
}

// even is how far n edges one period apart crowd in their sample cells, as the absolute mean of exp(2πi k period): what is
// seen of it is no less where some edges have no sample on the slope and their place is not known.
func even(period, n float64) float64 {
	d := math.Pi * (period - math.Round(period))
	if s := n * math.Sin(d); math.Abs(s) > 1e-9 {
		return math.Abs(math.Sin(n*d) / s)
	}
	return 1
}

// curvature is the correction of the mean high time for curved edges, in samples, and its budget row in samples².
// interpolated is the share of the answer that rests on interpolated crossings, jitter the variance of the white
// noise of falling [0] and rising [1] edges in samples². Edges that were placed by their form need none.
// period is in samples.
func (r *run) curvature(interpolated, period float64, cycles int, jitter [2]float64, f *fittedEdges) (high float64, row budget.Row) {
	a := r.levels.High - r.levels.Low
	levels := math.Hypot(r.levels.Uncertainty[0], r.levels.Uncertainty[1]) / 2 / a
	// In rounded samples the two about a crossing straddle the border between two amplitude steps, not the reference.
	q := r.levels.Quantum
	border := 0.0
	if r.find.Above-r.find.Below < 1.5*q {
		border = ((r.find.Above+r.find.Below)/2 - r.levels.Reference) / a
	} else {
		levels = math.Hypot(levels, q/a/math.Sqrt(12))
	}
	up, down := r.train.Shape(true), r.train.Shape(false)
	for m := range up.Crowding {
		k := even(float64(m+1)*period, float64(cycles))
		up.Crowding[m], down.Crowding[m] = min(up.Crowding[m], k), min(down.Crowding[m], k)
	}
	up.Mid -= border
	down.Mid += border
	var rise, ur, fall, uf float64
	if !f.ok[1] {
		rise, ur = late(up, jitter[1], levels)
	}
	if !f.ok[0] {
		fall, uf = late(down, jitter[0], levels)
	}
	row = budget.Shift("curvature of the edges", "B", "normal", math.Hypot(ur, uf), interpolated, -interpolated)
	return interpolated * (rise - fall), row
}
