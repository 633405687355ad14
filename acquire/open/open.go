// Package open opens a file or a stream of whatever a bench exported: it undoes how that is stored, has its shape recognised
// (package recognise), and lets it be read by the plan (package read). A serial stream, heard or saved, has its own reader.
package open

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"

	"golang.org/x/text/encoding/unicode"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/read"
	"offbeat/acquire/recognise"
)

// utf8Mark is the byte-order mark of UTF-8.
const utf8Mark = "\xef\xbb\xbf"

// headSize is how much of the input the recogniser may look at.
const headSize = 64 << 10

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
	if at, ok := r.(io.ReaderAt); ok && total >= 0 && t.plain {
		t.file = &read.File{At: at, Size: total, Mark: t.mark, Reach: progress.reach}
	}
	plan, err := recognise.Recognise(recognise.Input{Name: name, Head: t.head, Whole: t.whole, How: t.how}, opt)
	if err != nil {
		return nil, err
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

// text is the input as UTF-8 whose lines end in LF or CRLF, whatever it came as.
type text struct {
	r     io.Reader // what follows head
	head  []byte    // the first headSize bytes
	whole bool      // head is all there is
	plain bool      // the input is this text, behind a mark of so many bytes
	mark  int64
	file  *read.File // the same, where it is a regular file
	how   []string   // evidence: how it was stored
	log   io.Reader  // all of it, where it is a saved serial stream: that may hold anything, and nothing above is filled
}

// decode undoes compression, UTF-16, byte-order marks and line ends in CR alone.
func decode(name string, r io.Reader) (*text, error) {
	t := &text{plain: true}
	lead, r, err := peek(r, 4096)
	if err != nil {
		return nil, read.Fault(name, err)
	}
	if bytes.HasPrefix(lead, []byte{0x1f, 0x8b}) {
		packed := &counted{r: r}
		z, err := gzip.NewReader(packed)
		if err != nil {
			return nil, read.Fault(name, err)
		}
		t.how, t.plain = append(t.how, "compressed with gzip"), false
		if lead, r, err = peek(&inflated{name: name, z: z, packed: packed}, 4096); err != nil {
			return nil, read.Fault(name, err)
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
		if size >= read.MaxLine || bytes.Count(t.head, []byte("\n")) >= 4 || bytes.Count(t.head, []byte("\r")) >= 4 {
			break
		}
	}
	if t.r == nil {
		t.r = r
	}
	if read.LoneCR(t.head) {
		t.how, t.plain = append(t.how, "some lines end in CR alone"), false
		all := read.LineEnds(io.MultiReader(bytes.NewReader(t.head), t.r))
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
		return 0, &acquire.Error{File: i.name, What: fmt.Sprintf("the compressed data unpack to more than %d times their size", inflation), Expect: "a capture",
			Do: "unpack it and look at what it is", Err: acquire.ErrShape}
	}
	return n, err
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
