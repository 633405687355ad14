package read

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// Text is the input as UTF-8 whose lines end in LF, CR LF or now and then CR alone.
type Text struct {
	Head  []byte    // the first lines, as the plan was drawn up from
	Rest  io.Reader // what follows them
	Whole bool      // nothing does
	File  *File     // the same, where it is a regular file that is its text; nil: it is not
}

// File is a regular file that is its text but for a byte-order mark, so that several workers can read it in several places.
type File struct {
	At    io.ReaderAt
	Size  int64                       // bytes
	Mark  int64                       // bytes of the mark
	Reach func(read int64, last bool) // told how far the file has been read
}

// Tuning is for tests; its zero value is what is best.
type Tuning struct {
	Chunk int               // bytes that a worker takes at once
	Trip  func(text []byte) // called with each chunk before it is parsed
}

// Reader steps through the records of one source: Next returns the next one, or io.EOF behind the last; rows of the one
// before it that were not read are read over.
type Reader interface {
	Next() (*acquire.Capture, error)
	Stop()
}

func textClass(text []byte) acquire.LineClass {
	if len(bytes.TrimSpace(text)) == 0 {
		return acquire.BlankLine
	}
	return acquire.PreambleLine
}

const (
	// chunkSize is how much text a worker takes at once: with its columns it stays in a core's own cache.
	chunkSize = 256 << 10
	// MaxLine bounds a single line, and so the memory.
	MaxLine = 8 << 20
)

// ErrFault is a fault of the reader itself.
var ErrFault = errors.New("internal fault")

// since turns a count of ticks of 10^shift s into seconds, rounded once.
func since(ticks uint64, shift int) float64 {
	return scan.Decimal{Mantissa: ticks, Exact: true}.Float(strconv.AppendUint(nil, ticks, 10), '.', shift)
}

// alike is the error for a record whose times all print alike.
func alike(c *acquire.Capture) error {
	return &acquire.Error{File: c.Source, What: fmt.Sprintf("all %d times of the record are printed alike", c.Rows), Expect: "times that rise", Do: "export with more digits, or give --interval", Err: acquire.ErrTime}
}
