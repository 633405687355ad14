package measure

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/acquire"
	"offbeat/fit/budget"
	"offbeat/fit/cell"
	"offbeat/fit/level"
	"offbeat/fit/transition"
)

// halfStep of the amplitude resolution is the least that samples scatter about their level.
const halfStep = 0.5

// learn looks whether the edges among the first samples are slow enough to be placed by all samples on their slope.
func (r *run) learn() {
	r.refine = nil
	if r.c.Kind != acquire.Samples || r.opt.LevelSet || r.levels.Clipped || !r.levels.Dwells {
		return
	}
	f := r.find
	edges := f.Scan(float64(r.first), r.times(), r.v, nil)
	l := r.levels
	r.refine = transition.Learn(r.first, r.times(), r.v, edges, l.Low, l.High, max(l.Noise, halfStep*l.Quantum), l.Still[0] || l.Still[1])
}

// fittedEdges is what the edges that were placed by their form showed; ok is false for a polarity that was not.
type fittedEdges struct {
	of [2]transition.Summary // falling and rising edges
	ok [2]bool
}

func (r *run) fittedEdges() (f fittedEdges) {
	if r.refine != nil {
		for k := range f.of {
			f.of[k], f.ok[k] = r.refine.Summary(k == 1)
		}
	}
	return f
}

// response is how much later the crossings of a polarity seem for an error of the low and of the high level that they are
// compared with, as a share of the amplitude; unit of the edges.
func (r *run) response(f *fittedEdges, k int, cell float64) (low, high float64) {
	if f.ok[k] {
		low, high = f.of[k].ByEnd, f.of[k].ByStart
		if k == 1 {
			low, high = high, low
		}
	} else {
		fall, rise := r.train.Sharpness()
		low = cell / [2]float64{fall, rise}[k] / 2
		high = low
	}
	if k == 0 { // a higher reference is met earlier
		return -low, -high
	}
	return low, high
}

// sloped is which share of the sampling cell the slope of a polarity takes up: where no sample lies on it, the middle of the cell is what is
// taken for the crossing, wherever the levels are.
func (r *run) sloped(f *fittedEdges, k int) float64 {
	if f.ok[k] {
		return 1
	}
	fall, rise := r.train.Sharpness()
	s := [2]float64{fall, rise}[k]
	return min(s*cell.Duration(s), 1)
}

// A trace that is cut off stands at one value, and shows its noise on the slopes alone. One so quiet that it keeps to
// one value scatters by 0.22 of a step at most, and by 0.29 more where it is rounded on a slope: by 0.36.
const (
	shaken     = 0.36   // amplitude steps,
	shakenForm = 0.0035 // and of the amplitude, that samples on the slopes scatter by from edge to edge where the levels may be quiet;
	shakenBy   = 2      // more by that in variance,
	byChance   = 1e-4   // and by what chance makes of it so seldom, is noise
)

// cut takes a trace for cut off at the levels that stand still where the slopes do not.
func (r *run) cut(f *fittedEdges) {
	a, variance, known := r.levels.Amplitude(), 0.0, 0.0
	for k, s := range f.of {
		if f.ok[k] {
			variance, known = variance+s.Slope*s.Known, known+s.Known
		}
	}
	if known < 1 || !r.uniform {
		return
	}
	quiet := max(shaken*r.levels.Quantum, shakenForm*a)
	noise := a * math.Sqrt(variance/known)
	if noise*noise <= quiet*quiet*max(shakenBy, distuv.ChiSquared{K: known}.Quantile(1-byChance)/known) {
		return
	}
	for k, still := range r.levels.Still {
		if still {
			r.levels.Cut[k], r.levels.Noise = level.Beyond*a, noise
		}
	}
}

// settle corrects the mean high time, and the low time by the opposite, for what all edges and plateaus of the record have
// shown of the form and of the levels; in the unit of the edges and its square. interpolated is the share of the answer
// that rests on crossings.
func (r *run) settle(f *fittedEdges, cell, interpolated float64) (high float64, rows []budget.Row) {
	off, u := r.offsets()
	var lowness, highness float64
	var cut [2]float64 // by how much a level that lies beyond the screen moves it
	for k, sign := range [2]float64{1, -1} {
		low, up := r.response(f, k, cell)
		high -= sign * (low*off[0] + up*off[1])
		lowness += sign * low
		highness += sign * up
		cut[0] += sign * low * r.sloped(f, k)
		cut[1] += sign * up * r.sloped(f, k)
	}
	shift := math.Hypot(lowness*u[0], highness*u[1])
	for k, c := range r.levels.Cut {
		shift = math.Hypot(shift, cut[k]*c/r.levels.Amplitude())
	}
	rows = append(rows, budget.Shift("reference level", "B", "normal", shift, interpolated, -interpolated))
	if f.ok[0] || f.ok[1] {
		high += f.of[1].Late - f.of[0].Late
		rows = append(rows, budget.Shift("form of the edges", "A", "normal", math.Hypot(f.of[0].LateU, f.of[1].LateU), interpolated, -interpolated))
	}
	return high * interpolated, rows
}

// offsets is by how much the low [0] and the high [1] level that the edges were placed by were too high, as a share of
// the amplitude, now that the plateaus of the whole record are known, and the standard uncertainty left.
func (r *run) offsets() (off, u [2]float64) {
	a := r.levels.Amplitude()
	for k := range u {
		u[k] = r.levels.Uncertainty[k] / a
	}
	if r.opt.LevelSet {
		return off, [2]float64{}
	}
	if r.refine == nil {
		return off, u
	}
	used, means, n := [2]float64{}, [2]float64{}, [2]int{}
	used[0], used[1] = r.refine.Levels()
	means[0], means[1], n = r.refine.Plateaus()
	noise := r.levels.Noise * r.levels.Noise
	for k := range u {
		if n[k] > 0 {
			off[k] = (used[k] - means[k] - r.levels.Bias[k]) / a
			u[k] = math.Hypot(math.Sqrt(noise/float64(n[k])), r.levels.Left[k]) / a
		}
	}
	return off, u
}
