// Package measure is the pipeline from a capture to its measured times: levels, edges, pulse train, fit, budget.
package measure

import (
	"errors"
	"fmt"
	"io"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/level"
	"offbeat/fit/noise"
	"offbeat/fit/steady"
	"offbeat/fit/train"
	"offbeat/fit/transition"
	"offbeat/fit/workers"
)

// Options change how a capture is measured. The zero value is the default.
type Options struct {
	Channel     int     // index of the channel in Block.Value; default the first
	Level       float64 // V, reference level; used when LevelSet
	LevelSet    bool    // use Level; default: half way between the state levels
	ClockLimit  float64 // relative limit of the instrument's clock, rectangular half-width; default 0: not counted
	SinglePulse bool    // a monostable: one whole high pulse is enough, the low time is set by the trigger and only reported
	OneCycle    bool    // one whole cycle is enough where there is no more; its uncertainty has no type A part
}

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

// stretch is how many rows of a transition list are taken at a time.
const stretch = 256

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
	rows    int64
	moved   int
	judged  steady.Judgement
	notes   []string
}

// Run reads the capture to its end and returns its times. Every error is a *workers.Failure, or an *acquire.Error that wraps ErrFlat,
// ErrFew, ErrUnsteady, ErrNumber, acquire.ErrEmpty, or what the capture's reader met.
func Run(c *acquire.Capture, opt Options) (m *fit.Measurement, err error) {
	defer func() {
		if failure := workers.Caught(recover()); failure != nil {
			m, err = nil, fmt.Errorf("%s: %w", c.Source, failure)
		}
	}()
	hold := c.Kind == acquire.Transitions
	r := &run{c: c, opt: opt, train: train.New(hold, opt.SinglePulse), uniform: true}
	r.find.Hold = hold
	if c.Kind != acquire.Samples {
		r.use(level.Fixed())
	}
	if err := r.read(); err != nil {
		return nil, err
	}
	if !r.have {
		if err := r.lastResort(); err != nil {
			return nil, r.curve(err)
		}
	}
	if r.refine != nil {
		r.train.Add(r.refine.Flush(nil))
	}
	r.train.End()
	if m, err = r.finish(); err != nil {
		return nil, r.curve(err)
	}
	if err := r.finite(m); err != nil {
		return nil, err
	}
	return m, nil
}

// read takes the capture's blocks.
func (r *run) read() error {
	var b acquire.Block
	for {
		err := r.c.Read(&b)
		if err == io.EOF {
			return r.search(true)
		}
		if err != nil {
			return err
		}
		if r.opt.Channel < 0 || r.opt.Channel >= len(b.Value) {
			return r.fault("the capture has no such channel", fmt.Sprintf("a channel from 1 to %d", len(b.Value)), acquire.ErrChoice)
		}
		if b.N == 0 {
			continue
		}
		if err := r.block(&b); err != nil {
			return err
		}
	}
}

func (r *run) block(b *acquire.Block) error {
	v := b.Value[r.opt.Channel][:b.N]
	if b.Time != nil {
		r.uniform = false
	}
	if r.rows == 0 && b.Time != nil {
		r.train.Begin(b.Time[0])
	}
	r.rows += int64(b.N)
	if r.c.Kind == acquire.Samples {
		r.course.add(b.First, b.Time, v)
	}
	if !r.have {
		if len(r.v) == 0 {
			r.first = b.First
		}
		if r.v == nil {
			r.v = make([]float64, 0, window+b.N)
		}
		r.v = append(r.v, v...)
		if b.Time != nil {
			r.t = append(r.t, b.Time...)
		}
		if len(r.v) >= window {
			return r.search(false)
		}
		return nil
	}
	r.scan(b.First, b.Time, v)
	if r.c.Kind == acquire.Samples {
		r.watch(v)
	}
	return nil
}

// scan finds the edges of known levels.
func (r *run) scan(first int64, t, v []float64) {
	if r.find.Hold && t != nil {
		// Nearly every row is an edge: a stretch at a time, they stay in the core's first cache.
		for len(v) > 0 {
			n := min(len(v), stretch)
			r.edges = r.find.Scan(float64(first), t[:n], v[:n], r.edges[:0])
			r.train.Add(r.edges)
			first, t, v = first+int64(n), t[n:], v[n:]
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
