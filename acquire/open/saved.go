package open

import (
	"errors"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/recognise"
)

// savedLog reads the log of a serial stream that was heard: the same bytes give the same captures as then.
type savedLog struct {
	s      *Source
	stream *Stream
}

// openLog reads a source whose text is a saved log.
func (s *Source) openLog() error {
	o := acquire.StreamOptions{Unit: s.opt.TimeUnit, Invert: s.opt.Invert}
	if len(s.opt.Channels) > 0 {
		o.Channel = s.opt.Channels[0]
	}
	l, err := NewStream(s.name, s.text.log, o)
	if err != nil {
		return err
	}
	s.reader = &savedLog{s, l}
	return nil
}

func (l *savedLog) Next() (*acquire.Capture, error) {
	c, err := l.stream.Next()
	l.s.counts = lineCounts(l.stream.Counts())
	if err != nil {
		return nil, err
	}
	c.Evidence = append(append([]string{}, l.s.text.how...), c.Evidence...)
	return c, nil
}

func (l *savedLog) Stop() {}

// isLog: the text is what a terminal kept of a board's lines, with garbage or other lines among them, at which a table would end.
// A table that says its unit, or is asked for, is one.
func (t *text) isLog(plan *recognise.Plan, err error, opt acquire.Options) bool {
	table := plan != nil && (plan.Kind != acquire.Transitions || plan.Guess == "" || plan.Lines != nil)
	other := err != nil && !errors.Is(err, acquire.ErrShape) && !errors.Is(err, acquire.ErrChoice) && !errors.Is(err, acquire.ErrSyntax)
	if table || other || opt.Shape != "" || opt.Delimiter != "" || opt.Interval != 0 || opt.Record != 0 {
		return false
	}
	ok, said := stream.Likely(t.head, err != nil)
	return ok && (said || plan == nil || len(plan.Header) == 0)
}

// lineCounts puts the counts of a stream into the form that all sources share.
func lineCounts(c stream.Counts) acquire.Counts {
	n := acquire.Counts{Lines: c.Lines + c.Own, Preamble: c.Chatter + c.Own, Skipped: map[string]int64{}}
	n.Rows = c.Readings
	for why, k := range map[string]int64{
		"no reading":              c.Garbage - c.Chatter - c.Cut,
		"cut":                     c.Cut,
		"a false time":            c.Backward,
		"printed twice":           c.Doubled,
		"another channel":         c.Other,
		"first after a reconnect": c.Unsure,
	} {
		if k > 0 {
			n.Skipped[why] = k
		}
	}
	n.Rows -= c.Backward + c.Doubled + c.Other + c.Unsure
	return n
}
