package streams

import (
	"cmp"
	"fmt"
	"io"
	"regexp"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/transform"
)

// Guard gives the same streams with the filter of Clean before Out and Err. Broken then tells whether Out took all.
func (s *Streams) Guard() *Streams {
	g := *s
	g.rawOut, g.rawErr = s.Out, s.Err
	g.Out = &guarded{w: s.Filter(s.Out)}
	g.Err = &guarded{w: transform.NewWriter(s.Err, visible{})}
	return &g
}

// Filter puts the filter of Clean before w, and lets the colour through that these streams show.
func (s *Streams) Filter(w io.Writer) io.Writer { return transform.NewWriter(w, visible{s.Color}) }

// Terminal is Out for what moves the cursor: whoever writes there cleans what comes from an input.
func (s *Streams) Terminal() io.Writer {
	if s.rawOut != nil {
		return s.rawOut
	}
	return s.Out
}

// Broken is the first failure of Out, of guarded streams.
func (s *Streams) Broken() error {
	if g, ok := s.Out.(*guarded); ok {
		return g.err
	}
	return nil
}

// guarded remembers the first failure to write, since not everything that prints looks for one.
type guarded struct {
	w   io.Writer
	err error
}

func (g *guarded) Write(b []byte) (int, error) {
	n, err := g.w.Write(b)
	g.err = cmp.Or(g.err, err)
	return n, err
}

// Cleaner puts the filter of Clean before w.
func Cleaner(w io.Writer) io.Writer { return transform.NewWriter(w, visible{}) }

// Clean makes what would steer a terminal or turn the order of reading visible: control characters but for the line
// feed and the tab, and the marks of the Unicode Bidirectional Algorithm (UAX 9), are written as JSON writes them,
// \u202e, so that a JSON document still means the same. Bytes that are no UTF-8 become U+FFFD.
func Clean(text string) string {
	out, _, err := transform.String(visible{}, text)
	if err != nil { // it has no way to fail
		return ""
	}
	return out
}

// visible is the filter. Colour, where it is shown, is let through: the five attributes that this program sets.
type visible struct{ color bool }

var attribute = regexp.MustCompile(`^\x1b\[(?:0|1|31|32|33)m`)

const longest = len("\x1b[31m")

func (visible) Reset() {}

// Transform implements transform.Transformer.
func (v visible) Transform(dst, src []byte, atEOF bool) (nDst, nSrc int, err error) {
	for nSrc < len(src) {
		rest := src[nSrc:]
		if n := min(plain(rest), len(dst)-nDst); n > 0 {
			nDst += copy(dst[nDst:], rest[:n])
			nSrc += n
			continue
		}
		if !atEOF && !utf8.FullRune(rest) {
			return nDst, nSrc, transform.ErrShortSrc
		}
		r, n := utf8.DecodeRune(rest)
		out := rest[:n]
		switch {
		case v.color && r == 0x1b:
			if n = len(attribute.Find(rest)); n > 0 {
				out = rest[:n]
				break
			}
			if !atEOF && len(rest) < longest {
				return nDst, nSrc, transform.ErrShortSrc
			}
			out, n = []byte(`\u001b`), 1
		case r == utf8.RuneError && n == 1:
			out = []byte("\ufffd")
		case steers(r):
			out = fmt.Appendf(nil, `\u%04x`, r)
		}
		if nDst+len(out) > len(dst) {
			return nDst, nSrc, transform.ErrShortDst
		}
		nDst += copy(dst[nDst:], out)
		nSrc += n
	}
	return nDst, nSrc, nil
}

// plain counts the bytes at the beginning that are ASCII and to be shown.
func plain(b []byte) int {
	for i, c := range b {
		if c >= 0x7f || c < ' ' && c != '\n' && c != '\t' {
			return i
		}
	}
	return len(b)
}

// steers says whether a character changes how others are shown.
func steers(r rune) bool {
	switch {
	case r == '\n', r == '\t':
		return false
	case r < unicode.MaxASCII && r >= ' ':
		return false
	}
	return unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029' || r == '\ufeff'
}

// Streams are the three standard streams and the facts about them.
type Streams struct {
	In          io.Reader
	InTerminal  bool // In is typed by a person
	Out, Err    io.Writer
	OutTerminal bool
	ErrTerminal bool
	Color       bool // Out shows colour
	Width       int  // columns of Out
	Height      int  // lines of Out; 0: not a terminal
	Now         func() time.Time
	Typed       []string // the command line, without the program's name

	rawOut, rawErr io.Writer // of guarded streams, what the filter writes to
}
