package cli

import (
	"errors"
	"fmt"
	"io"

	"offbeat/acquire"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/fit"
	"offbeat/fit/measure"
)

// readOptions are how captures are read and measured.
type readOptions struct {
	acquire.Options
	level    float64 // V
	levelSet bool
	clock    float64 // relative limit of the instrument's clock
	onePulse bool    // a monostable
	explain  bool
	quiet    bool
	trace    bool // keep a trace of each record for the page
}

// reading is what captures gave: one measurement and one description a record.
type reading struct {
	measurements []*fit.Measurement
	captures     []compare.Capture
	traces       []*picture.Trace // nil where none was asked for
	warnings     []string
}

// readAll measures every record of every named source.
func readAll(s *streams.Streams, names []string, o readOptions) (*reading, error) {
	r := &reading{}
	for _, name := range names {
		progress := s.Progress(name, o.quiet)
		o.Progress = progress.Tell
		err := r.read(s, name, o)
		progress.Done()
		if err != nil {
			return nil, err
		}
	}
	return r, nil
}

// read measures every record of one source. A record that cannot be measured is left out with a warning, as
// long as another one can.
func (r *reading) read(s *streams.Streams, name string, o readOptions) error {
	var src *acquire.Source
	var err error
	if name == "-" {
		src, err = acquire.OpenReader(name, s.In, o.Options)
	} else {
		src, err = acquire.Open(name, o.Options)
	}
	if err != nil {
		return err
	}
	defer src.Close()
	return r.records(src, o)
}

func (r *reading) records(src *acquire.Source, o readOptions) error {
	var first error
	count, good := 0, 0
	for {
		c, err := src.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		count++
		var trace *picture.Trace
		if o.trace {
			c, trace = picture.Tap(c)
		}
		m, err := measure.Run(c, measure.Options{Level: o.level, LevelSet: o.levelSet, ClockLimit: o.clock, SinglePulse: o.onePulse})
		switch {
		case err == nil:
			good++
			r.add(c, m, trace, o.explain)
		case errors.Is(err, measure.ErrFlat), errors.Is(err, measure.ErrFew):
			r.warnings = append(r.warnings, fmt.Sprintf("record %d left out: %v", c.Record, err))
			if first == nil {
				first = err
			}
		default:
			return err
		}
	}
	switch {
	case good > 0:
		return nil
	case first != nil:
		return first
	case o.Record > 0:
		return usagef("--record %d; the input has fewer records", o.Record)
	}
	return fmt.Errorf("the input has no record; expected rows of time and level")
}

// add describes a record that was read to its end.
func (r *reading) add(c *acquire.Capture, m *fit.Measurement, t *picture.Trace, explain bool) {
	measured := reconcile.Measured(m)
	d := compare.Capture{Source: c.Source, Record: c.Record, Shape: c.Shape, Rows: c.Rows, Skipped: c.Skipped, Cycles: m.Cycles, Measured: &measured, Notes: c.Notes}
	if explain {
		d.Evidence = c.Evidence
	}
	r.measurements = append(r.measurements, m)
	r.traces = append(r.traces, t)
	r.captures = append(r.captures, d)
}
