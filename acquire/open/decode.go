package open

import (
	"bytes"
	"cmp"
	"io"

	"golang.org/x/text/encoding/unicode"

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
	named   bool       // its lines were written anew, as those of a table
	log     io.Reader  // all of it, where it is a saved serial stream: that may hold anything, and nothing above is filled
}

// decode undoes compression, UTF-16, byte-order marks and line ends in CR alone.
func decode(name string, r io.Reader) (*text, error) {
	t := &text{plain: true}
	lead, r, how, err := unpack(name, r)
	if err != nil {
		return nil, err
	}
	t.how, t.plain = how, len(how) == 0
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
	t.r = cmp.Or(t.r, r)
	if read.LoneCR(t.head) {
		t.how, t.plain = append(t.how, "some lines end in CR alone"), false
		all := read.LineEnds(io.MultiReader(bytes.NewReader(t.head), t.r))
		head := make([]byte, len(t.head))
		n, err := readUpTo(all, head)
		t.head, t.r, t.whole = head[:n], all, t.whole || err == io.EOF
	}
	return t, nil
}

// headSize is how much of the input the recogniser may look at.
const headSize = 64 << 10
