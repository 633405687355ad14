package open

import (
	"bytes"
	"fmt"
	"io"

	"offbeat/acquire"
)

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

const (
	// inflation is how many times its stored size a capture may have: rows of numbers shrink to a fifth, and rows that
	// count up and never change to a fiftieth.
	inflation = 300
	// inflationFree is how much may be unpacked before that is asked.
	inflationFree = 64 << 20
)
