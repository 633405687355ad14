package read

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"slices"
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

// Fault is the error for what an input failed with.
func Fault(name string, err error) error {
	if e := (*acquire.Error)(nil); errors.As(err, &e) {
		return e
	}
	e := &acquire.Error{File: name, What: acquire.Reason(err).Error(), Err: err}
	if damage := bzip2.StructuralError(""); errors.As(err, &damage) || slices.ContainsFunc(damaged, func(d error) bool { return errors.Is(err, d) }) {
		e.What, e.Err = "the compressed data are cut short or damaged", acquire.ErrTruncated
		e.Do = "copy the file again"
	}
	return e
}

// damaged are the errors of packed data that are no longer what was packed.
var damaged = []error{io.ErrUnexpectedEOF, gzip.ErrChecksum, gzip.ErrHeader, zip.ErrFormat, zip.ErrChecksum, tar.ErrHeader}

// Reasons why a row that could be read is not used.
const (
	repeatedRow  = "the row before it again"
	falseTime    = "a time that its neighbours deny"
	otherChannel = "row of another channel"
)

// Reasons why a line is skipped.
const (
	anotherTable = "part of another table"
	looseText    = "text among the rows"
	badRow       = "malformed row"
	cutRow       = "cut in mid-row"
)

// maxBad is how many bad rows may be slips however short the file is; of a longer one, one row in a hundred.
const maxBad = 3

// cutError is the error for a last line that is no whole row and has no line end.
func cutError(name string, num int64, column int) *acquire.Error {
	return &acquire.Error{File: name, Line: int(num), Column: column, What: "the last line is cut in mid-row", Expect: "whole rows",
		Do: "copy or export the file again; without its last line it can be read", Err: acquire.ErrTruncated}
}

// allText: no cell but text and empty ones, and some text.
func allText(cells [][]byte) bool {
	some := false
	for _, c := range cells {
		switch scan.Classify(c) {
		case scan.Text:
			some = true
		case scan.Empty:
		default:
			return false
		}
	}
	return some
}
