package acquire

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
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

// decode undoes compression, UTF-16, byte-order marks and line ends in CR alone.
func decode(name string, r io.Reader) (*text, error) {
	t := &text{plain: true}
	lead, r, err := peek(r, 4096)
	if err != nil {
		return nil, ioError(name, err)
	}
	if bytes.HasPrefix(lead, []byte{0x1f, 0x8b}) {
		packed := &counted{r: r}
		z, err := gzip.NewReader(packed)
		if err != nil {
			return nil, ioError(name, err)
		}
		t.how, t.plain = append(t.how, "compressed with gzip"), false
		if lead, r, err = peek(&inflated{name: name, z: z, packed: packed}, 4096); err != nil {
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
		n, err := readUpTo(r, t.head[from:])
		t.head = t.head[:from+n]
		if err == io.EOF {
			t.whole = true
			break
		}
		if err != nil { // what is there is handed out, and then the fault
			t.r = failed{err}
			break
		}
		// Where lines are long, the head takes more, so that it shows a few.
		if size >= maxLine || bytes.Count(t.head, []byte("\n")) >= 4 || bytes.Count(t.head, []byte("\r")) >= 4 {
			break
		}
	}
	if t.r == nil {
		t.r = r
	}
	if loneCR(t.head) {
		t.how, t.plain = append(t.how, "some lines end in CR alone"), false
		all := &lineEnds{r: io.MultiReader(bytes.NewReader(t.head), t.r)}
		head := make([]byte, len(t.head))
		n, err := readUpTo(all, head)
		t.head, t.r, t.whole = head[:n], all, t.whole || err == io.EOF
	}
	return t, nil
}

// failed is a reader that has failed.
type failed struct{ err error }

func (f failed) Read([]byte) (int, error) { return 0, f.err }

// readUpTo fills b, and returns why it could not: io.EOF where the input plainly ends. io.ReadFull would not tell that
// from compressed data that are cut short.
func readUpTo(r io.Reader, b []byte) (n int, err error) {
	for empty := 0; n < len(b) && err == nil; {
		var k int
		k, err = r.Read(b[n:])
		n += k
		if k > 0 {
			empty = 0
		} else if empty++; empty == 100 && err == nil {
			err = io.ErrNoProgress
		}
	}
	if n == len(b) {
		err = nil
	}
	return n, err
}

// peek returns up to n first bytes of r, and a reader that gives them again, and what r failed with behind them.
func peek(r io.Reader, n int) ([]byte, io.Reader, error) {
	b := make([]byte, n)
	k, err := readUpTo(r, b)
	b = b[:k]
	if k > 0 && err != nil && err != io.EOF {
		r, err = failed{err}, nil
	}
	if err == io.EOF {
		err = nil
	}
	return b, io.MultiReader(bytes.NewReader(b), r), err
}

// counted counts what is read.
type counted struct {
	r io.Reader
	n int64
}

func (c *counted) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	c.n += int64(n)
	return n, err
}

const (
	// inflation is how many times its stored size a capture may have: rows of numbers shrink to a fifth, and rows that
	// count up and never change to a fiftieth.
	inflation = 300
	// inflationFree is how much may be unpacked before that is asked.
	inflationFree = 64 << 20
)

// inflated refuses compressed data that unpack to far more than any capture does.
type inflated struct {
	name   string
	z      io.Reader
	packed *counted
	n      int64
}

func (i *inflated) Read(b []byte) (int, error) {
	n, err := i.z.Read(b)
	i.n += int64(n)
	if i.n > inflationFree && i.n > inflation*i.packed.n {
		return 0, &Error{File: i.name, What: fmt.Sprintf("the compressed data unpack to more than %d times their size", inflation), Expect: "a capture",
			Do: "unpack it and look at what it is", Err: ErrShape}
	}
	return n, err
}

func ioError(name string, err error) error {
	if e := (*Error)(nil); errors.As(err, &e) {
		return e
	}
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

// loneCR reports whether some line ends in CR alone.
func loneCR(b []byte) bool {
	for {
		i := bytes.IndexByte(b, '\r')
		if i < 0 {
			return false
		}
		for b = b[i:]; len(b) > 0 && b[0] == '\r'; {
			b = b[1:]
		}
		if len(b) > 0 && b[0] != '\n' {
			return true
		}
	}
}

// lineEnds turns each CR that no LF follows into LF.
type lineEnds struct {
	r       io.Reader
	held    int // CRs read whose successor is not known yet
	in, out []byte
	err     error
}

func (c *lineEnds) Read(b []byte) (int, error) {
	for len(c.out) == 0 {
		if c.err != nil {
			return 0, c.err
		}
		if c.in == nil {
			c.in = make([]byte, 32<<10)
		}
		var n int
		n, c.err = c.r.Read(c.in)
		c.turn(c.in[:n])
	}
	n := copy(b, c.out)
	c.out = c.out[n:]
	return n, nil
}

// turn takes the next bytes to out.
func (c *lineEnds) turn(b []byte) {
	out := c.out[:0]
	put := func(end byte) {
		for ; c.held > 0; c.held-- {
			out = append(out, end)
		}
	}
	for len(b) > 0 {
		switch b[0] {
		case '\r':
			c.held++
			b = b[1:]
			continue
		case '\n':
			put('\r')
		default:
			put('\n')
		}
		i := bytes.IndexByte(b, '\r')
		if i < 0 {
			i = len(b)
		}
		out, b = append(out, b[:i]...), b[i:]
	}
	if c.err != nil {
		put('\n')
	}
	c.out = out
}
