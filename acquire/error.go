package acquire

import (
	"errors"
	"fmt"
	"os"
	"strings"
)

// Sentinels that an Error wraps; match them with errors.Is.
var (
	ErrShape     = errors.New("unrecognised input")   // no known shape fits, or two fit and disagree
	ErrEmpty     = errors.New("no data")              // nothing to read
	ErrTruncated = errors.New("input ends too early") // cut in mid-row or mid-compression
	ErrSyntax    = errors.New("malformed row")        // a cell that is no number, a missing cell
	ErrChoice    = errors.New("a choice is needed")   // several channels or records; the message lists them
	ErrTime      = errors.New("unusable time base")   // no interval, repeated or backward times
)

// Error is a fault in the input, with its place.
type Error struct {
	File   string // source name, "-" for standard input
	Line   int    // 1-based; 0 when the fault has no line
	Column int    // 1-based byte column; 0 when the fault concerns the whole line
	What   string // what was found
	Expect string // what was expected
	Do     string // what the user can do, may be empty
	Err    error  // one of the sentinels, or an underlying I/O error
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
		if e.Column > 0 {
			fmt.Fprintf(&b, ":%d", e.Column)
		}
	}
	b.WriteString(": " + e.What)
	if e.Expect != "" {
		b.WriteString("; expected " + e.Expect)
	}
	if e.Do != "" {
		b.WriteString("; " + e.Do)
	}
	return b.String()
}

func (e *Error) Unwrap() error { return e.Err }

// Reason is why the system refused, without the names that it was given: what is said has the file's before it.
func Reason(err error) error {
	if p, ok := errors.AsType[*os.PathError](err); ok {
		return p.Err
	}
	if l, ok := errors.AsType[*os.LinkError](err); ok {
		return l.Err
	}
	return err
}
