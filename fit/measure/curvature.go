package measure

import (
	"math"
	"math/cmplx"

	"offbeat/fit/budget"
	"offbeat/fit/cell"
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
	shapeError = 0.12   // of the lag's lateness is what edges of other curves are off by
)

// late estimates by how many samples the crossings of one polarity are late, with its standard uncertainty.
// jitter is the variance of the edges' white noise in samples², levels the uncertainty of the reference as a
// share of the amplitude, period and steps as curvature takes them.
func late(s train.Shape, jitter, levels, period, steps float64) (value, u float64) {
	if s.Edges == 0 || s.Sharpness > straight {
		return 0, 0
	}
	l := lagOf(s.Sharpness)
	ratio := l.late / l.mid
	value = ratio * s.Mid
	sampling := math.Hypot(s.Sharpness*math.Sqrt(places(s, jitter, period, steps)), levels)
	// No edge that circuits make is more lopsided than the lag: one that is as lopsided, as far as is seen, is that.
	seen, unseen := s.Mid/l.mid, sampling/l.mid
	u = math.Hypot(ratio*sampling, shapeError*l.late*math.Sqrt(min(math.Abs(1-seen*seen)+unseen*unseen, 1)))
	// What the mid values cannot tell is bounded by that.
	k := l.late * l.late / (l.late*l.late + u*u)
	return k * value, math.Sqrt(k) * u
}

// places is the variance of the mean place of the crossings between two samples, about one half: of the first harmonics
// what is seen of their crowding stays, up to what the period lets be; noise adds its share of each, and averages.
func places(s train.Shape, jitter, period, steps float64) float64 {
	v, n := 0.0, float64(s.Edges)
	for m := 1; m <= 50; m++ {
		k := 2 * math.Pi * math.Pi * float64(m*m)
		crowd := crowded(float64(m)*period, k*steps, n)
		if m <= len(s.Crowding) {
			crowd = min(s.Crowding[m-1]*s.Crowding[m-1], crowd)
		} else {
			crowd *= 1 - math.Exp(-n*k*steps)
		}
		v += crowd/k + (1-math.Exp(-2*k*jitter))/k/n
	}
	return v
}

// crowded is how far n edges one period apart, in turns, crowd in one place: the mean of |Σ exp(2πi place)|² / n². Steps that
// add up from edge to edge lose exp(-loss) of it each; they let no more than chance of it be for long. What is seen of it is
// larger where some edges have no sample on the slope and their place is not known.
func crowded(period, loss, n float64) float64 {
	z := cmplx.Rect(math.Exp(-loss), 2*math.Pi*(period-math.Round(period)))
	d := 1 - z
	if cmplx.Abs(d)*n < 1e-3 {
		return 1
	}
	all := complex(n, 0)
	return min(max(real(1+2*(z/d-z*(1-cmplx.Pow(z, all))/(all*d*d)))/n, 0), 1)
}

// curvature is the correction of the mean high time for curved edges, in samples, and its budget row in samples².
// interpolated is the share of the answer that rests on interpolated crossings, jitter the variance of the white
// noise of falling [0] and rising [1] edges in samples². Edges that were placed by their form need none.
// period is in samples, steps the variance of its random step in samples².
func (r *run) curvature(interpolated, period, steps float64, jitter [2]float64, f *fittedEdges) (high float64, row budget.Row) {
	a := r.levels.Amplitude()
	levels := math.Hypot(r.levels.Uncertainty[0], r.levels.Uncertainty[1]) / 2 / a
	// In rounded samples the two about a crossing straddle the border between two amplitude steps, not the reference. Their mean goes with it as
	// far as they lie on the slope, which holds two samples or fewer.
	q := r.levels.Quantum
	border := 0.0
	if r.find.Above-r.find.Below < 1.5*q {
		border = ((r.find.Above+r.find.Below)/2 - r.levels.Reference) / a
	} else {
		levels = math.Hypot(levels, q/a/math.Sqrt(12))
	}
	up, down := r.train.Shape(true), r.train.Shape(false)
	up.Mid -= border * min(cell.Duration(up.Sharpness)/2, 1)
	down.Mid += border * min(cell.Duration(down.Sharpness)/2, 1)
	var rise, ur, fall, uf float64
	if !f.ok[1] {
		rise, ur = late(up, jitter[1], levels, period, steps)
	}
	if !f.ok[0] {
		fall, uf = late(down, jitter[0], levels, period, steps)
	}
	row = budget.Shift("curvature of the edges", "B", "normal", math.Hypot(ur, uf), interpolated, -interpolated)
	return interpolated * (rise - fall), row
}
