package measure

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/fit/level"
)

// search looks for the levels in the samples held back.
func (r *run) search(final bool) error {
	if r.have {
		return nil
	}
	thin := thinned(r.v, subsample)
	for _, x := range thin {
		if !math.IsNaN(x) {
			r.known++
		}
	}
	r.seen = append(r.seen, thin...)
	if len(r.seen) > 4*subsample {
		r.seen = thinned(r.seen, 2*subsample)
	}
	e, ok := level.Find(thin)
	if !ok {
		e, ok = level.Find(r.seen)
	}
	if ok {
		r.use(e)
		r.learn()
		r.scan(r.first, r.times(), r.v)
		r.behind = rows{r.first, r.times(), r.v}
		r.v, r.t = nil, nil
		return nil
	}
	r.follow(r.first, r.times(), r.v)
	if !final {
		r.v, r.t = r.v[:0], r.t[:0]
	}
	return nil
}

// use sets the levels.
func (r *run) use(e level.Estimate) {
	a := e.Amplitude()
	if r.opt.LevelSet {
		e.Reference = r.opt.Level
		near := min(e.Reference-e.Low, e.High-e.Reference)
		e.Hysteresis = min(e.Hysteresis, max(1.4*near, 0))
		e.Cut = [2]float64{} // it is where it is given
	}
	r.levels, r.have = e, true
	r.find.Set(e.Reference, e.Hysteresis, a)
	if r.refine != nil {
		r.refine.Revise(e.Low, e.High)
	}
}

// watch revises the levels when the latest samples disagree with them.
func (r *run) watch(v []float64) {
	r.recent = append(r.recent, thinned(v, max(len(v)/64, 1))...)
	if len(r.recent) < 1024 {
		return
	}
	recent := r.recent
	r.recent = r.recent[:0]
	if r.levels.Agree(recent) {
		return
	}
	e, ok := level.Find(recent)
	if !ok {
		return
	}
	old := r.levels
	a := old.Amplitude()
	if math.Abs(e.Low-old.Low) < 0.1*a && math.Abs(e.High-old.High) < 0.1*a {
		return
	}
	r.moved++
	if k := e.Amplitude() / a; k > 1.5 || k < 1/1.5 {
		r.train.Forget()
		r.notes = append(r.notes, fmt.Sprintf("the levels changed from %.4g and %.4g V to %.4g and %.4g V; what came before is left out", old.Low, old.High, e.Low, e.High))
	}
	r.use(e)
}

// thinned takes n values of v at most, one from each of as many stretches, not at even distances: those could keep in step
// with the train and meet nothing but its plateaus.
func thinned(v []float64, n int) []float64 {
	step := max((len(v)+n-1)/n, 1)
	out := make([]float64, 0, len(v)/step+1)
	for from := 0; from < len(v); from += step {
		_, within := math.Modf(float64(len(out)) * math.Phi)
		out = append(out, v[min(from+int(within*float64(step)), len(v)-1)])
	}
	return out
}

// lastResort tries the extremes of a waveform that does not dwell at two levels, else says what was met.
func (r *run) lastResort() error {
	if r.rows == 0 {
		return r.fault("the record has no rows", "rows of time and level", acquire.ErrEmpty)
	}
	if r.known == 0 {
		return r.fault("every level is unknown", "levels as numbers", acquire.ErrEmpty)
	}
	if e, ok := level.Extremes(r.v); ok {
		r.notes = append(r.notes, fmt.Sprintf("the waveform does not dwell at two levels; its extremes, %.4g and %.4g V, were taken for them", e.Low, e.High))
		e.Ramps = true
		r.use(e)
		r.scan(r.first, r.times(), r.v)
		return nil
	}
	return r.fault("the line is flat: the levels never separate from the noise", "a pulse train with two state levels", ErrFlat)
}
