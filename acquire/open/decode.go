package open

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"

	"golang.org/x/text/encoding/unicode"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/read"
)

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
	r       io.Reader // what follows head
	head    []byte    // the first headSize bytes
	whole   bool      // head is all there is
	plain   bool      // the input is this text, behind a mark of so many bytes
	mark    int64
	file    *read.File // the same, where it is a regular file
	how     []string   // evidence: how it was stored
	foreign error      // what the first bytes are taken for, where its lines may be objects of names and values all the same
	log     io.Reader  // all of it, where it is a saved serial stream: that may hold anything, and nothing above is filled
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
		t.log, t.how = r, append(t.how, "a saved serial stream, by its header")
		return t, nil
	}
	if err := notText(name, lead); err != nil {
		if text := bytes.TrimSpace(bytes.TrimPrefix(lead, []byte(utf8Mark))); len(text) == 0 || text[0] != '{' && text[0] != '[' {
			return nil, err
		}
		t.foreign = err
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

// headSize is how much of the input the recogniser may look at.
const headSize = 64 << 10

const (
	// inflation is how many times its stored size a capture may have: rows of numbers shrink to a fifth, and rows that
	// count up and never change to a fiftieth.
	inflation = 300
	// inflationFree is how much may be unpacked before that is asked.
	inflationFree = 64 << 20
)
