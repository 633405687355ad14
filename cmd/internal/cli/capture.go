package cli

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/bistable"
	"offbeat/compare/course"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/trace"
	"offbeat/compare/report/picture"
	"offbeat/fit"
	"offbeat/fit/latch"
	"offbeat/fit/measure"
	"offbeat/fit/stability"
	"offbeat/fit/waveform"
)

// readAll measures every record of every source.
func readAll(s *streams.Streams, sources []source) (*reading, error) {
	r := &reading{}
	for i, src := range sources {
		progress := s.Progress(src.name, src.quiet)
		src.Progress = progress.Tell
		blanks := len(r.blanks)
		err := r.read(s, src.name, src.readOptions)
		progress.Done()
		if err != nil {
			return nil, err
		}
		for len(r.from) < len(r.measurements) {
			r.from = append(r.from, i)
		}
		for k := range r.blanks[blanks:] {
			r.blanks[blanks+k].from = i
		}
	}
	return r, nil
}

// read measures every record of one source. A record that cannot be measured is left out with a warning, as
// long as another one can.
func (r *reading) read(s *streams.Streams, name string, o readOptions) error {
	var src *open.Source
	var err error
	if name == "-" {
		src, err = open.OpenReader(name, s.In, o.Options)
	} else {
		src, err = open.Open(name, o.Options)
	}
	if err != nil {
		return misplaced(choice(err, o), name)
	}
	defer src.Close()
	return choice(r.records(src, o), o)
}

// misplaced says of a design that stands in a capture's place where it belongs.
func misplaced(err error, name string) error {
	if !errors.Is(err, acquire.ErrShape) || filepath.Ext(name) != ".toml" {
		return err
	}
	return misplacedError(name)
}

// misplacedError names a design that stands where a capture is expected.
type misplacedError string

func (e misplacedError) Error() string {
	return string(e) + ": this looks like a design, not a capture; expected captures here: a design comes first on the command line, and only one"
}

func (misplacedError) Unwrap() error { return acquire.ErrShape }

// choice says of a channel that must be chosen how that is done.
func choice(err error, o readOptions) error {
	if !errors.Is(err, acquire.ErrChoice) {
		return err
	}
	how := "Choose with --channel NAME or --channel NUMBER, counted from 1."
	if o.roles["cap"] != "" {
		how = "The capacitor's waveform is a second channel of the same capture: --channel out=NAME --channel cap=NAME; a number counts from 1."
	}
	if o.latch != nil {
		how = "Choose with --channel out=NAME --channel set=NAME --channel reset=NAME; a number counts from 1."
	}
	return choiceError{err, how}
}

// recordSource hands out records: a file, or a stream that is heard.
type recordSource interface {
	Next() (*acquire.Capture, error)
}

func (r *reading) records(src recordSource, o readOptions) error {
	var failed []func() error // to take each for one in which the output stands
	good := 0
	for {
		c, err := src.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		switch err := r.take(c, o); {
		case err == nil:
			good++
		case errors.Is(err, measure.ErrFlat), errors.Is(err, measure.ErrFew), errors.Is(err, measure.ErrUnsteady):
			r.warnings = append(r.warnings, fmt.Sprintf("record %d left out: %v", c.Record, err))
			failed = append(failed, func() error { return r.stand(c, o, err) })
		default:
			return err
		}
	}
	switch {
	case good > 0:
		return nil
	case len(failed) > 0:
		warnings := r.warnings[:len(r.warnings)-len(failed)] // without those of being left out
		for _, stands := range failed {
			if err := stands(); err != nil {
				return err
			}
		}
		r.warnings = warnings
		return nil
	case o.Record > 0:
		return usagef("--record %d; the input has fewer records", o.Record)
	}
	return fmt.Errorf("the input has no record; expected rows of time and level")
}

// take measures one record, or checks it where the circuit is a bistable.
func (r *reading) take(c *acquire.Capture, o readOptions) error {
	if o.latch != nil {
		return r.check(c, o)
	}
	var tapped *picture.Trace
	if o.trace {
		c, tapped = picture.Tap(c)
	}
	if err := o.distinct(c); err != nil {
		return err
	}
	var temperature func(t float64) float64
	if at := o.place("temperature"); at > 0 {
		var q *stability.Quantity
		c, q = stability.Watch(c, at, o.Invert)
		temperature = q.At
	}
	m, w, err := o.measure(c)
	if bent, ok := errors.AsType[*waveform.Bent](err); ok {
		m, err = bent.Output, nil
		r.warnings = append(r.warnings, bent.Error()+"; it is left out, and only the output's times count")
	}
	if far := o.slow(c, err); far != err && (err != nil || o.strict) {
		if o.strict {
			return far
		}
		r.blanks = append(r.blanks, blank{Capture: described(c, o.explain), still: fit.Still{Interval: c.Step}})
		return nil
	}
	if err != nil {
		return r.charge(c, o, err)
	}
	if k := r.repeated(m, o.with); k >= 0 {
		r.warnings = append(r.warnings, fmt.Sprintf("record %d has every pulse of record %d, to the last digit, as where a file is named or was pasted twice: it is counted once", c.Record, r.captures[k].Record))
		return nil
	}
	m.Inverted = o.Invert
	if temperature != nil {
		k := &m.Moves // what moves the period is known
		*k = fit.Moves{Stops: k.Stops, Missing: k.Missing, Short: k.Short, Long: k.Long, Odd: k.Odd}
	}
	measured := reconcile.Measured(m)
	d := described(c, o.explain)
	d.Cycles, d.Measured = m.Cycles, &measured
	if w != nil {
		d.Waveform = trace.Waveform(w)
	}
	if o.runs || len(m.Changes) > 0 || m.Moves != (fit.Moves{}) || o.quiet && (m.Slow.HumUnseen || m.Slow.Amplitude > 0) {
		d.Stability = course.Of(m, temperature, c.Step)
	}
	if o.runs && temperature != nil && len(m.Changes) == 0 && (d.Stability == nil || !d.Stability.Drift.Told()) {
		r.warnings = append(r.warnings, fmt.Sprintf("%s: no drift against the temperature: it does not change, is not readable as °C, or the capture has too few cycles", c.Source))
	}
	r.measurements, r.with, r.waves = append(r.measurements, m), append(r.with, o.with), append(r.waves, w)
	r.traces = append(r.traces, tapped)
	r.captures = append(r.captures, d)
	return nil
}

// stand takes a record in which the design's output stands still for what it is; else the error stays.
func (r *reading) stand(c *acquire.Capture, o readOptions, err error) error {
	var seen *measure.Still
	switch {
	case o.design == nil || o.strict:
		return err
	case !errors.As(err, &seen) && errors.Is(err, measure.ErrFlat) && c.Kind == acquire.Transitions:
		return choiceError{err, "Where the board stood still, type how long in its place: \"" + designfile.NoPulse + " 60 s\"."}
	case seen == nil:
		return err
	}
	still, why, ok := reconcile.Standing(o.design, seen, o.Invert)
	if !ok && why != "" {
		return choiceError{err, why}
	}
	if !ok {
		return err
	}
	d := described(c, o.explain)
	d.Notes = append(slices.Clone(d.Notes), reconcile.Stood(&still, seen))
	r.blanks = append(r.blanks, blank{Capture: d, still: still, err: err})
	return nil
}

// Where all times of two records are alike, that is no chance with so many cycles, or with so many times that differ among themselves.
const (
	manyAlike   = 20
	manyLengths = 6
)

// repeated finds the record of the same source, and taken under the same conditions, whose pulses are all those of m; -1: there is none.
func (r *reading) repeated(m *fit.Measurement, with []fit.Condition) int {
	lengths := map[float64]bool{}
	for _, t := range slices.Concat(m.Series.High, m.Series.Low) {
		lengths[t] = true
	}
	if m.Cycles < manyAlike && len(lengths) < manyLengths {
		return -1
	}
	for k, o := range r.measurements {
		if o.Source == m.Source && o.Cycles == m.Cycles && slices.Equal(r.with[k], with) && slices.Equal(o.Series.High, m.Series.High) && slices.Equal(o.Series.Low, m.Series.Low) {
			return k
		}
	}
	return -1
}

// slow says why a record could not be measured whose samples lie too far apart for the design's pulses.
func (o *readOptions) slow(c *acquire.Capture, err error) error {
	if o.design == nil || c.Kind == acquire.Transitions {
		return err
	}
	if what, expect := reconcile.Undersampled(o.design, c.Step); what != "" {
		return &acquire.Error{File: c.Source, What: what, Expect: expect, Do: "it is the wrong signal to judge a board by: capture again", Err: err}
	}
	return err
}

// charge takes a record without pulses that shows a capacitor's charge, where that is wanted; else the error stays.
func (r *reading) charge(c *acquire.Capture, o readOptions, err error) error {
	var curve *measure.Curve
	if !o.charges || !errors.As(err, &curve) {
		return err
	}
	f, bad := waveform.FitCharge(curve, o.clock)
	if bad != nil {
		return err
	}
	r.charges = append(r.charges, trace.Charge(c.Source, f))
	r.warnings = append(r.warnings, c.Notes...)
	return nil
}

// measureRun and fitWaveform can be replaced, as solveUntil can.
var measureRun, fitWaveform = measure.Run, waveform.Fit

// measure measures the output, and the capacitor where a channel was chosen that shows it.
func (o *readOptions) measure(c *acquire.Capture) (*fit.Measurement, *waveform.Result, error) {
	opt := measure.Options{Level: o.level, LevelSet: o.levelSet, ClockLimit: o.clock, SinglePulse: o.onePulse, OneCycle: o.single}
	if o.roles["cap"] == "" {
		m, err := measureRun(c, opt)
		return m, nil, err
	}
	w, err := fitWaveform(c, waveform.Options{Measure: opt, Negated: o.Invert})
	if err != nil {
		return nil, nil, err
	}
	return w.Measurement, w, nil
}

// distinct refuses one channel in two roles.
func (o *readOptions) distinct(c *acquire.Capture) error {
	for i, a := range c.Channels {
		for _, b := range c.Channels[:i] {
			if a.Number == b.Number {
				return usagef("two of the roles that --channel gave are channel %d; expected a channel each", a.Number)
			}
		}
	}
	return nil
}

// prepareLatch takes from a bistable's design what checking it needs to know.
func (o *readOptions) prepareLatch(d *fit.Design) error {
	if o.levelSet {
		return usagef("--level has no meaning for the bistable circuit; expected a logic capture, whose channels are 0 or 1")
	}
	o.latch = &latch.Options{ActiveHigh: d.Inputs == fit.ActiveHigh}
	return o.chooseLatch()
}

// check holds one record against the truth table.
func (r *reading) check(c *acquire.Capture, o readOptions) error {
	result, err := latch.Run(c, *o.latch)
	if err != nil {
		return err
	}
	r.checks = append(r.checks, bistable.Check{Source: c.Source, Result: result})
	r.captures = append(r.captures, described(c, o.explain))
	return nil
}
