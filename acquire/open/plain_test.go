package open

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/read"
)

// longText is a capture of many chunks with odd lines and one line that is longer than some of them.
func longText(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := acquiretest.TimeVolt(&b, acquiretest.Astable(3.95e-3, 3.26e-3, 20), acquiretest.Form{Step: 5e-6, Time: "%.7e", Level: "%.6e"}); err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(b.String(), "\n")
	at := len(lines) / 2
	odd := append([]string{"\n", "# " + strings.Repeat("long ", 400) + "\n", "no,row\n"}, lines[at:]...)
	return []byte(strings.Join(append(lines[:at:at], odd...), ""))
}

// A file that workers read in several places says what the same text says that comes in one stream, wherever it is cut.
func TestFileInManyPlaces(t *testing.T) {
	plain := longText(t)
	for name, text := range map[string][]byte{
		"plain":      plain,
		"a mark":     append([]byte(utf8Mark), plain...),
		"CRLF":       bytes.ReplaceAll(plain, []byte("\n"), []byte("\r\n")),
		"cut in row": plain[:len(plain)-5],
		"blank end":  append(bytes.Clone(plain), "\n\n\n"...),
	} {
		whole := telling(t, bytes.NewReader(text), acquire.Options{})
		for _, chunk := range []int{0, 37, 1000, 65536} {
			if got := tellingOf(t, bytes.NewReader(text), int64(len(text)), acquire.Options{}, chunk); got != whole {
				t.Errorf("%s, chunks of %d: the file reads otherwise than the stream", name, chunk)
			}
		}
		// A file that has been cut since it was opened ends where it ends.
		if got := tellingOf(t, bytes.NewReader(text), int64(len(text))+300_000, acquire.Options{}, 1000); got != whole {
			t.Errorf("%s: a file shorter than it was said to be reads otherwise", name)
		}
	}
}

// faulty fails to be read from a place on.
type faulty struct {
	*bytes.Reader
	from int64
}

var errDisk = errors.New("the disk has gone")

func (f faulty) ReadAt(b []byte, at int64) (int, error) {
	if at+int64(len(b)) > f.from {
		n, _ := f.Reader.ReadAt(b[:max(f.from-at, 0)], at)
		return n, errDisk
	}
	return f.Reader.ReadAt(b, at)
}

// A file that fails in the middle gives its rows up to there and then the fault, never a shorter capture.
func TestFileThatFails(t *testing.T) {
	text := longText(t)
	s, err := from("x", faulty{bytes.NewReader(text), 300_000}, int64(len(text)), acquire.Options{}, read.Tuning{Chunk: 4096})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	c, err := s.Next()
	if err != nil {
		t.Fatal(err)
	}
	var b acquire.Block
	rows := 0
	for err = c.Read(&b); err == nil; err = c.Read(&b) {
		rows += b.N
	}
	if err == io.EOF || !errors.Is(err, errDisk) || rows == 0 {
		t.Errorf("%d rows and then %v; expected rows and the disk's fault", rows, err)
	}
}

// A fault in a worker is an error with a place, and the rows before it are there.
func TestWorkerThatFails(t *testing.T) {
	text := longText(t)
	calls := 0
	var lock sync.Mutex
	tune := read.Tuning{Chunk: 4096, Trip: func(b []byte) {
		lock.Lock()
		calls++
		n := calls
		lock.Unlock()
		if n == 20 {
			_ = b[len(b)+n]
		}
	}}
	s, err := from("x", bytes.NewReader(text), int64(len(text)), acquire.Options{}, tune)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var e *acquire.Error
	rows := int64(0)
	for !errors.As(err, &e) && err != io.EOF {
		var c *acquire.Capture
		if c, err = s.Next(); err != nil {
			break
		}
		for b := (acquire.Block{}); err == nil; {
			err = c.Read(&b)
		}
		rows += c.Rows
		if err == io.EOF {
			err = nil
		}
	}
	if !errors.As(err, &e) || e.Line < int(rows) || rows == 0 || !errors.Is(err, read.ErrFault) {
		t.Errorf("%d rows, and then %v", rows, err)
	}
}
