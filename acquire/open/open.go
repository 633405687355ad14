// Package open opens a file or a stream of whatever a bench exported: it undoes how that is stored, has its shape recognised
// (package recognise), and lets it be read by the plan (package read). A serial stream, heard or saved, has its own reader.
package open

import (
	"bytes"
	"io"
	"os"

	"offbeat/acquire"
	"offbeat/acquire/read"
)

// Open opens the named file ("-" is standard input) and recognises its shape. The caller closes the Source.
func Open(name string, opt acquire.Options) (*Source, error) {
	if name == "-" {
		return OpenReader(name, os.Stdin, opt)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: read.Cause(err), Expect: "a readable file", Err: err}
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
	if s.err == nil {
		s.err = io.EOF
	}
	s.reader.Stop()
	return s.close()
}
