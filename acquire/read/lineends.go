package read

import (
	"bytes"
	"io"
)

// LineEnds turns each CR that no LF follows into LF.
func LineEnds(r io.Reader) io.Reader { return &lineEnds{r: r} }

// LoneCR reports whether some line ends in CR alone.
func LoneCR(b []byte) bool {
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
