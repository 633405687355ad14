// Package open opens a file or a stream of whatever a bench exported: it undoes how that is stored, has its shape recognised
// (package recognise), and lets it be read by the plan (package read). A serial stream, heard or saved, has its own reader.
package open

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"os"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/read"
	"offbeat/acquire/recognise"
)

// Open opens the named file ("-" is standard input) and recognises its shape. The caller closes the Source.
func Open(name string, opt acquire.Options) (*Source, error) {
	if name == "-" {
		return OpenReader(name, os.Stdin, opt)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: acquire.Reason(err).Error(), Expect: "a readable file", Err: err}
	}
	return OpenFile(name, f, opt)
}

// OpenFile does what Open does with a file that is open already; name is used in messages. Close closes f.
func OpenFile(name string, f *os.File, opt acquire.Options) (*Source, error) {
	total := int64(-1)
	if st, err := f.Stat(); err == nil {
		if st.IsDir() {
			f.Close()
			return nil, &acquire.Error{File: name, What: "this is a folder", Expect: "a file", Err: acquire.ErrShape}
		}
		if st.Mode().IsRegular() {
			total = st.Size()
		}
	}
	s, err := from(name, f, total, opt, read.Tuning{})
	if err != nil {
		f.Close()
		return nil, err
	}
	s.close = f.Close
	return s, nil
}

// OpenReader recognises and reads a stream; name is used in messages. Close does not close r.
func OpenReader(name string, r io.Reader, opt acquire.Options) (*Source, error) {
	return from(name, r, -1, opt, read.Tuning{})
}

func from(name string, r io.Reader, total int64, opt acquire.Options, tune read.Tuning) (*Source, error) {
	s := &Source{name: name, opt: opt, close: func() error { return nil }}
	var err error
	progress := &progressReader{r: r, total: total, tell: opt.Progress}
	if s.text, err = decode(name, progress); err != nil {
		return nil, err
	}
	if s.text.log != nil && opt.Shape == "" {
		return s, s.openLog()
	}
	t := s.text
	plan, err := t.plan(name, opt)
	if t.isLog(plan, err, opt) {
		t.log, t.how = io.MultiReader(bytes.NewReader(t.head), t.r), append(t.how, "lines of a serial stream, with others among them")
		return s, s.openLog()
	}
	if err != nil {
		return nil, err
	}
	if at, ok := r.(io.ReaderAt); ok && total >= 0 && t.plain {
		t.file = &read.File{At: at, Size: total, Mark: t.mark, Reach: progress.reach}
	}
	s.reader = read.Open(read.Text{Head: t.head, Rest: t.r, Whole: t.whole, File: t.file}, plan, opt, &s.counts, tune)
	return s, nil
}

// Next returns the next record, or io.EOF after the last one. Rows of the record before it that were not
// read are read over.
func (s *Source) Next() (*acquire.Capture, error) {
	for s.err == nil {
		c, err := s.reader.Next()
		if err != nil {
			s.err = err
			break
		}
		if s.opt.Record == 0 || s.opt.Record == c.Record {
			return c, nil
		}
	}
	return nil, s.err
}

// Counts says what became of the lines met so far.
func (s *Source) Counts() acquire.Counts { return s.counts.Clone() }

// Close releases what Open opened. It may be called at any time.
func (s *Source) Close() error {
	s.err = cmp.Or(s.err, io.EOF)
	s.reader.Stop()
	return s.close()
}

// Source is one input being read: its records come one after the other from Next.
type Source struct {
	name   string
	opt    acquire.Options
	close  func() error
	text   *text
	counts acquire.Counts
	reader read.Reader
	err    error // sticky
}

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
	untimed := errors.Is(err, acquire.ErrTime) // levels without an interval may be durations that say their unit
	table := plan != nil && (plan.Kind != acquire.Transitions || plan.Guess == "" || plan.Lines != nil || t.named)
	other := err != nil && !untimed && !errors.Is(err, acquire.ErrShape) && !errors.Is(err, acquire.ErrChoice) && !errors.Is(err, acquire.ErrSyntax)
	if table || other || opt.Shape != "" || opt.Delimiter != "" || opt.Interval != 0 || opt.Record != 0 {
		return false
	}
	ok, said, durations := stream.Likely(t.head, err != nil)
	return ok && (!untimed || durations) && (said || plan == nil || len(plan.Header) == 0)
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
