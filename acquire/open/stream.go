package open

import (
	"cmp"
	"errors"
	"io"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/internal/timeunit"
)

// Stream reads what a board prints as captures: one for each run of lines of one form. A counter that wraps
// or restarts, a lost line or a port that was away leaves an unknown stretch in its capture, never a pulse
// across. It reads a live port and a saved log alike, and the same bytes give the same rows.
type Stream struct {
	name string
	r    *stream.Reader
	rec  *stream.Record
}

// NewStream reads r; name is used in messages. The error is about the options.
func NewStream(name string, r io.Reader, opt acquire.StreamOptions) (*Stream, error) {
	s, err := stream.NewReader(r, opt)
	if err != nil {
		return nil, &acquire.Error{File: name, What: err.Error(), Err: acquire.ErrTime}
	}
	return &Stream{name: name, r: s}, nil
}

// Next returns the next capture, or io.EOF after the last one. Rows of the one before it that were not read
// are read over. Every other error is an *Error, or what the source failed with.
func (s *Stream) Next() (*acquire.Capture, error) {
	rec, err := s.r.Next()
	if err != nil {
		return nil, s.explain(err)
	}
	s.rec = rec
	return s.capture(rec), nil
}

// Counts says what was met so far.
func (s *Stream) Counts() acquire.StreamCounts { return s.r.Counts() }

// Marks returns the user's marks met so far in the capture that Next returned last.
func (s *Stream) Marks() []acquire.StreamMark {
	if s.rec == nil {
		return nil
	}
	return s.rec.Marks
}

// capture makes a capture of a record.
func (s *Stream) capture(rec *stream.Record) *acquire.Capture {
	var c *acquire.Capture
	var rows stream.Rows
	values := make([][]float64, 1)
	read := func(b *acquire.Block) error {
		b.First, b.N = rec.Rows, 0
		err := s.r.Read(&rows)
		if err == nil {
			values[0] = rows.Value
			b.Time, b.Value, b.N = rows.Time, values, rows.Len()
		}
		settleStream(c, rec)
		return s.explain(err)
	}
	name := rec.Channel
	name = cmp.Or(name, "1")
	unit := ""
	switch {
	case rec.Volts:
		unit = "V"
	case rec.Counts:
		unit = acquire.CountUnit
	}
	c = acquire.NewCapture(acquire.Capture{
		Source: s.name, Record: rec.Number, Shape: "serial stream of " + rec.Form.String(), Kind: streamKind(rec.Form), Rounded: rec.Rounded,
		Channels: []acquire.Channel{{Name: name, Number: 1, Unit: unit}},
	}, read)
	if rec.Bare {
		c.TimeUnit = timeunit.Symbol(rec.Unit)
	}
	settleStream(c, rec)
	return c
}

func streamKind(f stream.Form) acquire.Kind {
	switch f {
	case stream.TimeReading:
		return acquire.Samples
	case stream.TimeLook:
		return acquire.Logic
	}
	return acquire.Transitions
}

// settleStream copies what the record knows so far.
func settleStream(c *acquire.Capture, rec *stream.Record) {
	c.TimeResolution, c.Step, c.Digits, c.Guess = rec.Resolution, rec.Step, rec.Digits, rec.Guess
	c.Rows, c.Skipped, c.Notes, c.Evidence = rec.Rows, rec.Skipped, rec.Notes, rec.Evidence
}

// streamFaults says what to do about a stream that gives no capture.
var streamFaults = []struct {
	err            error
	what, want, do string
	is             error
}{
	{stream.ErrEmpty, "no line was heard", "lines such as \"1234567,1\"", "check the wiring, the baud rate and that the board is running", acquire.ErrEmpty},
	{stream.ErrNone, "no line is a reading in a known form", "time,level; H duration; durations in turn; time,reading; frequency and duty factor by name", "check the baud rate: a wrong one gives noise", acquire.ErrShape},
	{stream.ErrTimesOnly, "each line is one number that only grows: a time without a level", "time,level at each edge", "let the board print the level too", acquire.ErrShape},
	{stream.ErrTicks, "the times are a timer's ticks, and nothing says how long a tick is", "a line above them that says it, such as \"rate 2000000 Hz\"", "let the board print such a line, or write it above the first", acquire.ErrTime},
	{stream.ErrLevelsOnly, "each line is a level without a time", "time,level at each edge", "let the board print the time too", acquire.ErrTime},
}

// explain turns what the reader failed with into an *Error where it is about the lines.
func (s *Stream) explain(err error) error {
	for _, f := range streamFaults {
		if errors.Is(err, f.err) {
			return &acquire.Error{File: s.name, What: f.what, Expect: f.want, Do: f.do, Err: f.is}
		}
	}
	return err
}
