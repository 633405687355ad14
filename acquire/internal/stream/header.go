package stream

import (
	"bytes"
	"fmt"
	"strconv"
	"time"
)

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
