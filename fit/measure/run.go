// Package measure is the pipeline from a capture to its measured times: levels, edges, pulse train, fit, budget.
package measure

import (
	"fmt"
	"io"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/level"
	"offbeat/fit/train"
	"offbeat/fit/workers"
)

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
			return nil, r.still(r.curve(err))
		}
	}
	if r.refine != nil {
		r.train.Add(r.refine.Flush(nil))
	}
	r.train.End()
	if m, err = r.finish(); err != nil {
		return nil, r.still(r.curve(err))
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
		r.start = b.Time[0]
		r.train.Begin(r.start)
	}
	r.latest = v[b.N-1]
	r.rows += int64(b.N)
	r.end = float64(b.First + int64(b.N) - 1)
	if b.Time != nil {
		r.end = b.Time[b.N-1]
	}
	if !r.have {
		if len(r.v) == 0 {
			r.first = b.First
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
	r.follow(b.First, b.Time, v)
	if r.c.Kind == acquire.Samples {
		r.watch(v)
	}
	return nil
}
