package measure

import (
	"errors"
	"math"

	"offbeat/acquire"
	"offbeat/fit/change"
	"offbeat/fit/level"
	"offbeat/fit/noise"
	"offbeat/fit/steady"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// Sentinels that Run's errors wrap.
var (
	ErrFlat = errors.New("no pulses")
	ErrFew  = noise.ErrFew
	// ErrUnsteady says that there are pulses, but not of one steady train that a mean and an uncertainty could be stated for.
	ErrUnsteady = errors.New("no steady train")
)

// window is how many samples the levels are looked for at a time.
const (
	window    = 1 << 16
	subsample = 1 << 13
)

// run is the state of one measurement.
type run struct {
	c      *acquire.Capture
	opt    Options
	find   transition.Finder
	refine *transition.Refiner // nil: edges are as interpolated
	placed []transition.Edge
	train  *train.Train
	levels level.Estimate
	have   bool // levels are known
	edges  []transition.Edge

	v, t    []float64 // samples held back while the levels are unknown
	first   int64     // row of v[0]
	uniform bool      // rows lie on the capture's grid
	seen    []float64 // a thin sample of all values before the levels were known
	known   int64     // samples that are not NaN
	recent  []float64 // a thin sample of the latest values
	course  course    // a thin sample of all, with times
	behind  rows      // that it lacks: those that the levels were found in
	rows    int64
	start   float64 // where the first row lies, in the unit of the edges
	end     float64 // where the last row lies, likewise
	latest  float64 // value
	moved   int
	judged  steady.Judgement
	found   *change.Found // what lies between the changes of the train, once it was sought; between: the same with its edges
	between []train.Pace
	notes   []string
}

// scan finds the edges of known levels.
func (r *run) scan(first int64, t, v []float64) {
	if r.find.Hold && t != nil {
		// Nearly every row is an edge: a stretch at a time, they stay in the core's first cache.
		for len(v) > 0 {
			n := min(len(v), stretch)
			r.edges = r.find.Scan(float64(first), t[:n], v[:n], r.edges[:0])
			r.train.Add(r.edges)
			t, v = t[n:], v[n:]
		}
		return
	}
	r.edges = r.find.Scan(float64(first), t, v, r.edges[:0])
	if r.refine == nil {
		r.train.Add(r.edges)
		return
	}
	r.placed = r.refine.Take(first, t, v, r.edges, r.placed[:0])
	r.train.Add(r.placed)
}

func (r *run) fault(what, expect string, cause error) error {
	return &acquire.Error{File: r.c.Source, What: what, Expect: expect, Err: cause}
}

// rows are samples of the record from the first row on.
type rows struct {
	first int64
	t, v  []float64
}

// curveCap is how many samples a course keeps of the record, at most.
const curveCap = 8192

// course is a thin sample of the record with its times: every row at first, and as it fills up one in ever more.
type course struct {
	t, v  []float64
	every int64 // 0: nothing yet
}

func (c *course) add(first int64, t, v []float64) {
	if c.every == 0 {
		c.every, c.t, c.v = 1, make([]float64, 0, curveCap), make([]float64, 0, curveCap)
	}
	for i := (c.every - first%c.every) % c.every; i < int64(len(v)); i += c.every {
		at := float64(first + i)
		if t != nil {
			at = t[i]
		}
		if !math.IsNaN(v[i]) && !math.IsInf(v[i], 0) {
			c.t, c.v = append(c.t, at), append(c.v, v[i])
		}
		if len(c.t) < curveCap {
			continue
		}
		for k := range curveCap / 2 {
			c.t[k], c.v[k] = c.t[2*k], c.v[2*k]
		}
		c.t, c.v = c.t[:curveCap/2], c.v[:curveCap/2]
		if c.every *= 2; (first+i)%c.every != 0 {
			i -= c.every / 2
		}
	}
}

// time is where an edge lies on the capture's axis, in s.
func (r *run) time(x, scale float64) float64 {
	if r.uniform {
		return r.c.Start + x*scale
	}
	return x
}

// quantum is the time step of a transition list. The greatest common step says nothing when it is as long as
// the pulses themselves: then every interval is alike, and only the printed resolution is known.
func (r *run) quantum() float64 {
	if r.c.Step > 0.2*r.train.Shortest() {
		return r.c.TimeResolution
	}
	return r.c.Step
}

func (r *run) times() []float64 {
	if r.uniform {
		return nil
	}
	return r.t
}

// Options change how a capture is measured. The zero value is the default.
type Options struct {
	Channel     int     // index of the channel in Block.Value; default the first
	Level       float64 // V, reference level; used when LevelSet
	LevelSet    bool    // use Level; default: half way between the state levels
	ClockLimit  float64 // relative limit of the instrument's clock, rectangular half-width; default 0: not counted
	SinglePulse bool    // a monostable: one whole high pulse is enough, the low time is set by the trigger and only reported
	OneCycle    bool    // one whole cycle is enough where there is no more; its uncertainty has no type A part
}

// stretch is how many rows of a transition list are taken at a time.
const stretch = 256
