package stream

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"time"
)

const (
	// MaxLine is the longest line kept; the rest of a longer one is thrown away up to its end.
	MaxLine   = 1024
	frameSize = 32 << 10
	// emptyReads is how many reads in a row may bring neither a byte nor an error before Fill gives up.
	emptyReads = 1000
)

// Framer cuts a byte stream into lines. LF, CR and CRLF end a line alike, so that empty lines can't be
// told and are not handed out. It holds at most one read's worth of bytes.
type Framer struct {
	src  io.Reader
	buf  []byte
	from int  // first byte not handed out
	seen int  // bytes before this one hold no line end
	long bool // inside a line longer than MaxLine, its beginning thrown away
	err  error
}

// NewFramer cuts what r brings.
func NewFramer(r io.Reader) *Framer {
	return &Framer{src: r, buf: make([]byte, 0, frameSize)}
}

// Line is one line without its end. Text is valid until the next call.
type Line struct {
	Text []byte
	Long bool // longer than MaxLine: Text is empty
	Cut  bool // the stream ended before the line did
}

// Next hands out the next line that is wholly here; ok is false when Fill must bring more.
func (f *Framer) Next() (l Line, ok bool) {
	for i := f.seen; i < len(f.buf); i++ {
		if c := f.buf[i]; c != '\n' && c != '\r' {
			continue
		}
		text := f.buf[f.from:i]
		f.from, f.seen = i+1, i+1
		if l, ok := f.line(text); ok {
			return l, true
		}
	}
	f.seen = len(f.buf)
	if f.err != nil {
		text := f.buf[f.from:]
		f.from = len(f.buf)
		l, ok := f.line(text)
		l.Cut = true
		return l, ok
	}
	if len(f.buf)-f.from > MaxLine {
		f.long, f.from = true, len(f.buf)
	}
	return Line{}, false
}

// line ends the current line with text.
func (f *Framer) line(text []byte) (Line, bool) {
	if f.long || len(text) > MaxLine {
		f.long = false
		return Line{Long: true}, true
	}
	return Line{Text: text}, len(text) > 0
}

// Fill reads once more. After it has failed, Next hands out the unfinished last line, if any.
func (f *Framer) Fill() error {
	if f.err != nil {
		return f.err
	}
	n := copy(f.buf, f.buf[f.from:])
	f.buf, f.seen, f.from = f.buf[:n], f.seen-f.from, 0
	for range emptyReads {
		k, err := f.src.Read(f.buf[n:cap(f.buf)])
		f.buf, f.err = f.buf[:n+k], err
		if k > 0 {
			return nil // an error that came with bytes is told at the next call
		}
		if err != nil {
			return err
		}
	}
	f.err = io.ErrNoProgress
	return f.err
}

// A saved log is what was heard, byte for byte, between lines of our own that begin with ownPrefix: a
// header, and a line wherever something happened to the port or the user set a mark. Such a line always
// stands alone: where it would fall inside a heard line, CutMark ends that line and spoils it.
const ownPrefix = "# offbeat "

// CutMark ends a line that the port cut short; no reading survives it.
const CutMark = "<cut>\n"

// Header opens a saved log.
type Header struct {
	Source  string    // port
	Baud    int       // 0: not a port
	Unit    string    // as the user said; empty: to be inferred again
	Started time.Time // zero: left out
}

// Lines are the header's lines.
func (h Header) Lines() []byte {
	var b bytes.Buffer
	b.WriteString(ownPrefix + "stream 1\n")
	if h.Source != "" {
		fmt.Fprintf(&b, ownPrefix+"source %s\n", oneLine(h.Source))
	}
	if h.Baud > 0 {
		fmt.Fprintf(&b, ownPrefix+"baud %d\n", h.Baud)
	}
	if h.Unit != "" {
		fmt.Fprintf(&b, ownPrefix+"unit %s\n", oneLine(h.Unit))
	}
	if !h.Started.IsZero() {
		fmt.Fprintf(&b, ownPrefix+"started %s\n", h.Started.UTC().Format(time.RFC3339))
	}
	return b.Bytes()
}

// Gone is the line that says that the port was away so long; the rest of the log was heard after it.
func Gone(away time.Duration) string {
	return fmt.Sprintf(ownPrefix+"reconnected %.1f\n", away.Seconds())
}

// MarkLine is the line of a user's mark.
func MarkLine(text string) string { return ownPrefix + "mark " + oneLine(text) + "\n" }

// IsLog reports whether a stream begins with the header of a saved log.
func IsLog(head []byte) bool { return bytes.HasPrefix(head, []byte(ownPrefix+"stream ")) }

func oneLine(s string) string {
	b := []byte(s)
	for i, c := range b {
		if c < 0x20 || c == 0x7f {
			b[i] = ' '
		}
	}
	if len(b) > MaxLine/2 {
		b = b[:MaxLine/2]
	}
	return string(b)
}

// own reads a line of ours: its key and the rest.
func own(line []byte) (key, value string, ok bool) {
	rest, ok := bytes.CutPrefix(line, []byte(ownPrefix))
	if !ok {
		return "", "", false
	}
	k, v, _ := bytes.Cut(rest, []byte(" "))
	return string(k), string(v), true
}

// awaySeconds reads what Gone wrote; 0 where it can't.
func awaySeconds(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 0 && v < 1e9) {
		return 0
	}
	return v
}
