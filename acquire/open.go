package acquire

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"os"

	"golang.org/x/text/encoding/unicode"

	"offbeat/acquire/internal/stream"
)

// utf8Mark is the byte-order mark of UTF-8.
const utf8Mark = "\xef\xbb\xbf"

// headSize is how much of the input the recogniser may look at.
const headSize = 64 << 10

// Source is one input being read: its records come one after the other from Next.
type Source struct {
	name   string
	opt    Options
	close  func() error
	text   *text
	plan   *plan
	counts Counts
	reader recordReader
	err    error // sticky
}

// recordReader steps through the records of one source.
type recordReader interface {
	next() (*Capture, error)
	stop()
}

// Open opens the named file ("-" is standard input) and recognises its shape. The caller closes the Source.
func Open(name string, opt Options) (*Source, error) {
	if name == "-" {
		return OpenReader(name, os.Stdin, opt)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &Error{File: name, What: plainCause(err), Expect: "a readable file", Err: err}
	}
	total := int64(-1)
	if st, err := f.Stat(); err == nil {
		if st.IsDir() {
			f.Close()
			return nil, &Error{File: name, What: "this is a folder", Expect: "a file", Err: ErrShape}
		}
		if st.Mode().IsRegular() {
			total = st.Size()
		}
	}
	s, err := open(name, f, total, opt)
	if err != nil {
		f.Close()
		return nil, err
	}
	s.close = f.Close
	return s, nil
}

// OpenReader recognises and reads a stream; name is used in messages. Close does not close r.
func OpenReader(name string, r io.Reader, opt Options) (*Source, error) {
	return open(name, r, -1, opt)
}

func open(name string, r io.Reader, total int64, opt Options) (*Source, error) {
	s := &Source{name: name, opt: opt, close: func() error { return nil }}
	var err error
	progress := &progressReader{r: r, total: total, tell: opt.Progress}
	if s.text, err = decode(name, progress); err != nil {
		return nil, err
	}
	if at, ok := r.(io.ReaderAt); ok && total >= 0 && s.text.plain {
		s.text.file = &plainFile{at: at, size: total, mark: s.text.mark, progress: progress}
	}
	if s.text.log != nil && opt.Shape == "" {
		return s, s.openLog()
	}
	if s.plan, err = recognise(name, s.text, opt); err != nil {
		return nil, err
	}
	s.reader = s.plan.open(s)
	return s, nil
}

// Next returns the next record, or io.EOF after the last one. Rows of the record before it that were not
// read are read over.
func (s *Source) Next() (*Capture, error) {
	for s.err == nil {
		c, err := s.reader.next()
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
func (s *Source) Counts() Counts { return s.counts.clone() }

// Close releases what Open opened. It may be called at any time.
func (s *Source) Close() error {
	if s.err == nil {
		s.err = io.EOF
	}
	s.reader.stop()
	return s.close()
}

func plainCause(err error) string {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// progressReader tells how far the input has been read, once a mebibyte.
type progressReader struct {
	r           io.Reader
	read, total int64
	told        int64
	tell        func(read, total int64)
}

func (p *progressReader) Read(b []byte) (int, error) {
	n, err := p.r.Read(b)
	p.reach(p.read+int64(n), err != nil)
	return n, err
}

// reach says that the input has been read so far.
func (p *progressReader) reach(read int64, last bool) {
	p.read = read
	if p.tell != nil && (p.read-p.told >= 1<<20 || last) {
		p.told = p.read
		p.tell(p.read, p.total)
	}
}

// plainFile is a regular file that is its text but for a byte-order mark of mark bytes, so that several workers can read
// it in several places.
type plainFile struct {
	at         io.ReaderAt
	size, mark int64
	progress   *progressReader
}

// text is the input as UTF-8 whose lines end in LF or CRLF, whatever it came as.
type text struct {
	r     io.Reader // what follows head
	head  []byte    // the first headSize bytes
	whole bool      // head is all there is
	plain bool      // the input is this text, behind a mark of so many bytes
	mark  int64
	file  *plainFile // the same, where it is a regular file
	how   []string   // evidence: how it was stored
	log   io.Reader  // all of it, where it is a saved serial stream: that may hold anything, and nothing above is filled
}

// decode undoes compression, UTF-16, byte-order marks and CR-only line ends.
func decode(name string, r io.Reader) (*text, error) {
	t := &text{plain: true}
	lead, r, err := peek(r, 4096)
	if err != nil {
		return nil, ioError(name, err)
	}
	if bytes.HasPrefix(lead, []byte{0x1f, 0x8b}) {
		z, err := gzip.NewReader(r)
		if err != nil {
			return nil, ioError(name, err)
		}
		t.how, t.plain = append(t.how, "compressed with gzip"), false
		if lead, r, err = peek(z, 4096); err != nil {
			return nil, ioError(name, err)
		}
	}
	if stream.IsLog(lead) {
		t.log = r
		return t, nil
	}
	if err := notText(name, lead); err != nil {
		return nil, err
	}
	if order, bom := utf16Order(lead); order >= 0 {
		word := []string{"little-endian", "big-endian"}[order]
		t.how, t.plain = append(t.how, "UTF-16, "+word), false
		if bom {
			io.CopyN(io.Discard, r, 2)
		}
		e := []unicode.Endianness{unicode.LittleEndian, unicode.BigEndian}[order]
		r = unicode.UTF16(e, unicode.IgnoreBOM).NewDecoder().Reader(r)
	} else if bytes.HasPrefix(lead, []byte(utf8Mark)) {
		t.how = append(t.how, "UTF-8 with a byte-order mark")
		t.mark, _ = io.CopyN(io.Discard, r, 3)
	}
	for size := headSize; ; size *= 2 {
		from := len(t.head)
		t.head = append(t.head, make([]byte, size-from)...)
		n, err := io.ReadFull(r, t.head[from:])
		t.head = t.head[:from+n]
		if err == io.ErrUnexpectedEOF || err == io.EOF {
			t.whole = true
			break
		}
		if err != nil {
			return nil, ioError(name, err)
		}
		// Where lines are long, the head takes more, so that it shows a few.
		if size >= maxLine || bytes.Count(t.head, []byte("\n")) >= 4 || bytes.Count(t.head, []byte("\r")) >= 4 {
			break
		}
	}
	t.r = r
	if crOnly(t.head) {
		t.how, t.plain = append(t.how, "lines end in CR alone"), false
		t.r = crReader{r}
		for i, c := range t.head {
			if c == '\r' {
				t.head[i] = '\n'
			}
		}
	}
	return t, nil
}

// peek returns up to n first bytes of r, and a reader that gives them again.
func peek(r io.Reader, n int) ([]byte, io.Reader, error) {
	b := make([]byte, n)
	k, err := io.ReadFull(r, b)
	b = b[:k]
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		err = nil
	}
	return b, io.MultiReader(bytes.NewReader(b), r), err
}

func ioError(name string, err error) error {
	e := &Error{File: name, What: plainCause(err), Err: err}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, gzip.ErrChecksum) {
		e.What, e.Err = "the compressed data are cut short or damaged", ErrTruncated
		e.Do = "copy the file again"
	}
	return e
}

// utf16Order tells UTF-16 by its mark, or by every other byte being zero in a text that is mostly ASCII:
// 0 little-endian, 1 big-endian, -1 neither.
func utf16Order(b []byte) (order int, mark bool) {
	switch {
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}):
		return 0, true
	case bytes.HasPrefix(b, []byte{0xfe, 0xff}):
		return 1, true
	}
	var zero [2]int
	for i, c := range b {
		if c == 0 {
			zero[i&1]++
		}
	}
	half := len(b) / 2
	switch {
	case half >= 4 && zero[1] > half*9/10 && zero[0] == 0:
		return 0, false
	case half >= 4 && zero[0] > half*9/10 && zero[1] == 0:
		return 1, false
	}
	return -1, false
}

// crOnly reports whether CR stands alone as the line end.
func crOnly(b []byte) bool {
	return bytes.IndexByte(b, '\n') < 0 && bytes.IndexByte(b, '\r') >= 0
}

// crReader turns each CR into LF.
type crReader struct{ r io.Reader }

func (c crReader) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	for i, x := range b[:n] {
		if x == '\r' {
			b[i] = '\n'
		}
	}
	return n, err
}
