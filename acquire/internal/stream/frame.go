package stream

import "io"

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
