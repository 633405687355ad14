package read

import (
	"compress/gzip"
	"errors"
	"io"
	"os"

	"offbeat/acquire"
)

// Fault is the error for what an input failed with.
func Fault(name string, err error) error {
	if e := (*acquire.Error)(nil); errors.As(err, &e) {
		return e
	}
	e := &acquire.Error{File: name, What: Cause(err), Err: err}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, gzip.ErrChecksum) {
		e.What, e.Err = "the compressed data are cut short or damaged", acquire.ErrTruncated
		e.Do = "copy the file again"
	}
	return e
}

// Cause is what went wrong, without the name of the file.
func Cause(err error) string {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}
